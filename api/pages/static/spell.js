// Numbers for the ear: digit by digit as they were sent, and units in full. "25.003" is no twenty-five
// thousand and three in any language.

import { named, t } from "./labels.js";

// A number that stands by itself, and what stands behind it.
const NUMBER = /(?<![\p{L}\d.−-])([-−]?\d+(?:\.\d+)?)(?![\d.]*[\p{L}\d])(?: ([^\s.,;:!?)]+))?/gu;

// "−25.003" → "minus 25 point 0 0 3"
export function digits(text) {
  const [, sign, whole, decimals] = /^([-−]?)(\d+)(?:\.(\d+))?$/u.exec(text) ?? [null, "", text, ""];
  const point = decimals ? ` ${t("hands.say.point")} ${[...decimals].join(" ")}` : "";
  return `${sign ? `${t("hands.say.minus")} ` : ""}${whole}${point}`;
}

export function size(text, unit) {
  return `${digits(text)} ${named("hands.unit", unit)}`;
}

// The numbers in a sentence.
export function spelled(sentence) {
  return sentence.replaceAll(NUMBER, (_, number, behind) => (behind === undefined ? digits(number) : size(number, behind)));
}
