// Where a step or a placement is, in words.

import { t } from "./labels.js";
import * as words from "./words.js";

// "Cylinder bore 2 · top thrust"
export function where(one) {
  if (one.kind === "study") return turn(one);
  if (one.kind === "check") return pull(one);
  const number = one.count === 1 ? "" : ` ${one.number}`;
  const part = one.part ? `${one.part_title ?? words.plain(one.part)}${number}` : "";
  const piece = one.part && one.piece && one.piece !== `${one.part}-${one.number}` ? one.piece : "";
  const reading = one.repeats > 1 ? t("bench.place.reading", { repeat: one.repeat, repeats: one.repeats }) : "";
  const again = one.pass > 1 ? t("bench.place.pass", { pass: one.pass }) : "";
  return [part, piece, one.stage ?? words.plain(one.point ?? ""), reading, again].filter(Boolean).join(" · ");
}

// The point of a study is its appraiser and the trial: "A-2".
function turn(one) {
  const cut = one.point.lastIndexOf("-");
  return t("bench.place.study", { appraiser: one.point.slice(0, cut), sample: one.number, trial: one.point.slice(cut + 1) });
}

// The point of a tool check is its setting and the pull at it ("40-3"), or "preload-2".
function pull(one) {
  const cut = one.point.lastIndexOf("-");
  const [at, count] = [one.point.slice(0, cut), one.point.slice(cut + 1)];
  return at === "preload" ? t("bench.place.preload", { number: count }) : t("bench.place.pull", { at, number: count });
}
