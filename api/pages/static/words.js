// The words that several parts of the bench page share.

import { brief, trimmed } from "./numbers.js";

export const VERDICTS = {
  conforming: "Conforming",
  nonconforming: "Nonconforming",
  undecided: "Undecided",
  not_evaluated: "Not evaluated",
};

export const DEVICES = {
  ready: "ready",
  opening: "opening",
  scanning: "scanning",
  connecting: "connecting",
  closed: "closed",
  lagging: "lagging",
  silent: "silent",
  lost: "lost",
  faulted: "faulted",
};

// What a connection is doing; one that is not as it should be also says since when.
export function device(told) {
  const word = DEVICES[told?.state] ?? "not opened";
  if (!told?.since || !["silent", "lost", "faulted"].includes(told.state)) return word;
  const time = new Date(told.since).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
  return `${word} since ${time}`;
}

export function lowBattery(told) {
  return `Battery low (${told.battery} %): change or charge it before it fails`;
}

export const KINDS = {
  measure: "Measure",
  confirm: "Confirm",
  tighten: "Tighten",
  turn: "Turn",
  zero: "Zero check",
  study: "Gauge study",
  check: "Tool check",
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

// A reading of a gauge that types, and why it is not stored.
export function notTaken({ text, why }) {
  return `NOT STORED: “${text.trim()}”. ${why}`;
}

export function notSent(readings) {
  const [first] = readings;
  const some = readings.length === 1 ? `${first.value} ${first.unit} from ${first.instrument} waits` : `${readings.length} typed readings wait`;
  return `NOT STORED YET: ${some} in this browser and will be sent as soon as the service answers. Leave this page open.`;
}

// What a pedal does, in a word or two.
export function pedal(does, instrument) {
  return { send: `asks ${instrument ?? "the gauge that suits"} to send`, confirm: "confirms", void: "voids the last reading" }[does] ?? plain(does);
}

export function servicePedal({ pedal: name, does, instrument, state, detail }) {
  const trouble = state === "ready" ? "" : ` (${DEVICES[state] ?? state}${detail ? `: ${detail}` : ""})`;
  return `Pedal ${name}: ${pedal(does, instrument)}${trouble}`;
}

export function lastStored(reading) {
  return `The last press that is stored: ${size(reading)} from ${reading.instrument}.`;
}

// What a reading says, without its unit: one size, or between which two it lies. A bracket is never
// corrected, only voided.
export function digits(reading) {
  const { bracket } = reading;
  if (bracket) return between(bracket.lower, bracket.upper);
  return (reading.corrected?.digits ?? reading.value).replace("-", "−");
}

export function unit(reading) {
  return reading.corrected?.unit ?? reading.unit;
}

export function size(reading) {
  const { bracket } = reading;
  if (bracket && bracket.upper == null) return `${bracket.lower} ${unit(reading)} or more`;
  return `${digits(reading)} ${unit(reading)}`;
}

export function between(lower, upper) {
  if (lower == null) return `below ${upper}`;
  if (upper == null) return `${lower} or more`;
  return `${lower} – ${upper}`;
}

export function limits(lower, upper, unit) {
  const [low, high] = [lower, upper].map((one) => (one == null ? null : brief(one)));
  if (low && high) return `${low} to ${high} ${unit}`;
  if (low) return `at least ${low} ${unit}`;
  if (high) return `at most ${high} ${unit}`;
  return "no limits";
}

// The id words of a spec, made readable: "top-thrust" to "top thrust".
export function plain(id) {
  return String(id).replaceAll("-", " ").replaceAll("_", " ");
}

// "cylinder 2"
export function called({ part, number }) {
  return `${plain(part)} ${number}`;
}

// Why a result is held that measuring or reworking its part alone may not settle.
export function why({ drift, follows }) {
  return [
    drift ? " Its gauge's zero had moved: set it anew and measure again before anything is reworked." : "",
    follows ? ` Its limits follow from ${plain(follows)}, which has changed since it was judged: measure it again.` : "",
  ].join("");
}

export function older(count) {
  const some = count === 1 ? "1 older reading waits" : `${count} older readings wait`;
  return `${some} too (of the last 5000 entries); GET /v1/readings lists them.`;
}

// "1 reading", "8 readings"
export function count(number, what) {
  return `${number} ${what}${number === 1 ? "" : "s"}`;
}

// What is known of an instrument beside its connection.
export function about(one) {
  return [
    one.setting ? `Set on ${one.setting.standard}, ${one.setting.size} ${one.setting.unit}` : one.comparative ? "Not set on a standard yet" : "",
    one.extension ? `Extension of ${one.extension.length} ${one.extension.unit} on${one.extension.angle === "0" ? "" : ` at ${one.extension.angle}°`}` : "",
    one.temperature ? `${trimmed(one.temperature.celsius)} °C` : "",
  ].filter(Boolean);
}

export function openSet(one) {
  return `${count(one.set.readings, "reading")} without a closing zero check`;
}
