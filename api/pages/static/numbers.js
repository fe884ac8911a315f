// Decimal text, digits as they are: never through a float.

export const DECIMAL = /^[+-]?[0-9]+(\.[0-9]+)?$/;

// A number as it was typed, with a point for a comma: the keypad of a telephone may have no point. A
// comma beside a point, or a second one, marks thousands, and stays to be refused.
export function pointed(text) {
  return /^[^.,]*,[^.,]*$/u.test(text) ? text.replace(",", ".") : text;
}

// More decimals than this say nothing to anybody at a bench.
const MANY = 6;

export function places(text) {
  const point = (text ?? "").indexOf(".");
  return point < 0 ? 0 : text.length - point - 1;
}

// A measured size as text for the page, rounded once. A conversion gives more decimals than anybody
// measured: shown are two more than the finest of the limits and the expanded uncertainty has, so
// that which side of a limit it is on can still be seen, and never fewer than the gauge sent in this
// unit. "≈" says that something was left out; the service keeps and gives the exact value.
export function shown(verdict, sent) {
  const beside = [verdict.lower, verdict.upper, verdict.expanded_uncertainty].filter((one) => one != null);
  if (beside.length === 0) return verdict.measured;
  const asSent = sent.unit === verdict.unit ? places(sent.digits) : 0;
  const most = Math.max(asSent, 2 + Math.max(...beside.map((one) => Math.min(places(one), MANY))));
  const short = rounded(verdict.measured, most);
  return short === verdict.measured ? short : `≈ ${short}`;
}

// Decimal text with at most so many decimals: half to even, digit by digit, never through a float.
export function rounded(text, most) {
  const cut = places(text) - most;
  if (cut <= 0) return text;
  const negative = text.startsWith("-");
  const digits = text.replace(/[-.]/g, "");
  const kept = digits.slice(0, -cut) || "0";
  const rest = digits.slice(-cut);
  const half = `5${"0".repeat(cut - 1)}`;
  const up = rest > half || (rest === half && BigInt(kept) % 2n === 1n);
  const whole = (BigInt(kept) + (up ? 1n : 0n)).toString().padStart(most + 1, "0");
  const point = whole.length - most;
  const body = most ? `${whole.slice(0, point)}.${whole.slice(point)}` : whole;
  return negative && /[1-9]/.test(body) ? `-${body}` : body;
}

// A limit that was computed may have more decimals than anybody measures: then four, and "≈" says
// so. The service keeps and gives the exact value, and decides with it.
export function brief(text) {
  return places(text) > MANY ? `≈ ${rounded(text, 4)}` : text;
}

// Without the zeros at its end that say nothing: 23.500000 is 23.5.
export function trimmed(text) {
  return text.includes(".") ? text.replace(/\.?0+$/, "") : text;
}

function scaled(text, most) {
  return BigInt(text.replace(".", "") + "0".repeat(most - places(text)));
}

// The sum, exactly, with as many decimals as the finest has.
export function sum(texts) {
  const most = Math.max(0, ...texts.map(places));
  const whole = texts.reduce((total, text) => total + scaled(text, most), 0n);
  const digits = String(whole < 0n ? -whole : whole).padStart(most + 1, "0");
  const point = digits.length - most;
  return (whole < 0n ? "-" : "") + (most ? `${digits.slice(0, point)}.${digits.slice(point)}` : digits);
}

// One less the other, exactly.
export function difference(one, other) {
  return sum([one, other.startsWith("-") ? other.slice(1) : `-${other}`]);
}

// Whether one is larger than the other.
export function larger(one, other) {
  const most = Math.max(places(one), places(other));
  return scaled(one, most) > scaled(other, most);
}
