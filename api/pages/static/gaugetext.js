// What a gauge typed, as a number and the unit it typed, if any: "-12,345 mm", "12.345-".

const SHAPE = /^([+\-−]?)\s*([0-9]*)(?:[.,]([0-9]*))?\s*([+\-−]?)\s*([^0-9+\-−.,\s][^0-9+\-−,]*)?$/u;
const LONGEST = 38;

// { value, unit }, with `unit` null where none was typed; null where it is no number.
export function understood(text) {
  const found = SHAPE.exec(text.trim());
  if (!found) return null;
  const [, before, whole, decimals = "", behind, unit] = found;
  if ((!whole && !decimals) || (before && behind) || whole.length + decimals.length > LONGEST) return null;
  const sign = /[-−]/u.test(before + behind) ? "-" : "";
  return { value: sign + (whole || "0") + (decimals && `.${decimals}`), unit: unit?.trim() ?? null };
}

// Whether a person may have meant a number, or a gauge sent one with something more.
export function numeric(text) {
  return /[0-9]/u.test(text);
}

// Whether the keys are those of digits though the letters are not: another layout than the gauge's.
export function otherLayout(text, codes) {
  const digits = codes.filter((code) => /^(Digit|Numpad)[0-9]$/u.test(code)).length;
  return digits > 1 && digits > text.replace(/[^0-9]/gu, "").length;
}
