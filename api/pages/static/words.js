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
