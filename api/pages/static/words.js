// Every word the bench page shows, in one place.

export const VERDICTS = {
  conforming: "Conforming",
  nonconforming: "Nonconforming",
  undecided: "Undecided",
  not_evaluated: "Not evaluated",
};

export const DEVICES = {
  ready: "ready",
  opening: "opening",
  closed: "closed",
  lagging: "lagging",
  lost: "lost",
  faulted: "faulted",
};

export const KINDS = {
  measure: "Measure",
  confirm: "Confirm",
  tighten: "Tighten",
  turn: "Turn",
};

export const STORED = "Stored";
export const NOT_STORED = "NOT STORED";
export const LINE_LIVE = "Live";
export const LINE_LOST = "Connection lost";
export const LOST = "CONNECTION LOST. What is shown may be old. Presses are still captured if the service runs; this page catches up by itself.";

export function notStoring(condition) {
  const held = condition.held
    ? `${condition.held} ${condition.held === 1 ? "reading is" : "readings are"} held in memory. `
    : "";
  return `NOT STORED. ${held}${condition.detail} The service goes on trying; do not switch it off.`;
}

export function unknown(condition) {
  return `NOT KNOWN WHETHER STORED. ${condition.detail} The store is being looked into.`;
}

export function lastStored(reading) {
  return `The last press that is stored: ${reading.value} ${reading.unit} from ${reading.instrument}.`;
}

export function limits(lower, upper, unit) {
  if (lower != null && upper != null) return `${lower} to ${upper} ${unit}`;
  if (lower != null) return `at least ${lower} ${unit}`;
  if (upper != null) return `at most ${upper} ${unit}`;
  return "no limits";
}

// The id words of a spec, made readable: "top-thrust" to "top thrust".
export function plain(id) {
  return String(id).replaceAll("-", " ").replaceAll("_", " ");
}

export function older(count) {
  const some = count === 1 ? "1 older reading waits" : `${count} older readings wait`;
  return `${some} too (of the last 5000 entries); GET /v1/readings lists them.`;
}

function places(text) {
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
  const most = Math.max(asSent, 2 + Math.max(...beside.map(places)));
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
