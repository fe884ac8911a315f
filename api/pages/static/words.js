// The words that several parts of the bench page share.

import { language, named, t } from "./labels.js";
import { brief, trimmed } from "./numbers.js";

// What a connection is doing; one that is not as it should be also says since when.
export function device(told) {
  const word = named("common.device", told?.state ?? "unknown");
  if (!told?.since || !["silent", "lost", "faulted"].includes(told.state)) return word;
  return t("bench.device.since", { word, time: hour(told.since) });
}

// The hour of a moment of the record, as the record counts it: "08:38:11 UTC".
export function hour(moment) {
  return `${moment.slice(11, 19)} UTC`;
}

export function lowBattery(told) {
  return t("bench.device.low_battery", { battery: told.battery });
}

export const LOST = t("bench.alarm.lost");

export function notStoring(condition) {
  const held = condition.held ? `${t("bench.alarm.held", { count: condition.held })} ` : "";
  return t("bench.alarm.not_storing", { held, detail: condition.detail });
}

export function unknown(condition) {
  return t("bench.alarm.unknown", { detail: condition.detail });
}

// A reading of a gauge that types, and why it is not stored.
export function notTaken({ text, why }) {
  return t("bench.alarm.not_taken", { text: text.trim(), why });
}

export function notSent(readings) {
  const [first] = readings;
  const some = readings.length === 1
    ? t("bench.alarm.waits_one", { size: `${first.value} ${first.unit}`, instrument: first.instrument })
    : t("bench.alarm.waits_some", { number: readings.length });
  return t("bench.alarm.not_sent", { some });
}

// What a pedal does, in a word or two.
export function pedal(does, instrument) {
  if (does === "send") return instrument ? t("bench.pedal.send", { instrument }) : t("bench.pedal.send_any");
  return named("bench.pedal.does", does);
}

export function servicePedal({ pedal: name, does, instrument, state, detail }) {
  const said = t("bench.pedal.said", { pedal: name, does: pedal(does, instrument) });
  if (state === "ready") return said;
  return `${said} (${named("common.device", state)}${detail ? `: ${detail}` : ""})`;
}

export function lastStored(reading) {
  return t("bench.last.last_stored", { size: size(reading), instrument: reading.instrument });
}

// What a reading says, without its unit: one size, or between which two it lies. A bracket is never
// corrected, only voided.
export function digits(reading) {
  const { bracket } = reading;
  if (bracket) return between(bracket.lower, bracket.upper);
  return signed(reading.corrected?.digits ?? reading.value);
}

// A number for the eye: with a minus sign as wide as a digit.
export function signed(text) {
  return text.replace("-", "−");
}

export function unit(reading) {
  return reading.corrected?.unit ?? reading.unit;
}

export function size(reading) {
  const { bracket } = reading;
  if (bracket && bracket.upper == null) return t("bench.size.or_more_of", { lower: bracket.lower, unit: unit(reading) });
  return `${digits(reading)} ${unit(reading)}`;
}

export function between(lower, upper) {
  if (lower == null) return t("bench.size.below", { upper });
  if (upper == null) return t("bench.size.or_more", { lower });
  return `${lower} – ${upper}`;
}

export function limits(lower, upper, unit_) {
  const [low, high] = [lower, upper].map((one) => (one == null ? null : brief(one)));
  if (low && high) return t("common.from_to", { lower: low, upper: high, unit: unit_ });
  if (low) return t("common.at_least", { limit: low, unit: unit_ });
  if (high) return t("common.at_most", { limit: high, unit: unit_ });
  return t("common.no_limits");
}

// The id words of a spec, made readable: "top-thrust" to "top thrust".
export function plain(id) {
  return String(id).replaceAll("-", " ").replaceAll("_", " ");
}

// A kind of instrument: "micrometer".
export function tool(kind) {
  return named("bench.tool", kind);
}

// One or another: "feeler or wall micrometer".
export function either(words) {
  return new Intl.ListFormat(language, { type: "disjunction" }).format(words);
}

// "cylinder 2"
export function called({ part, number }) {
  return `${plain(part)} ${number}`;
}

// Why a result is held that measuring or reworking its part alone may not settle.
export function why({ drift, follows }) {
  return [
    drift ? ` ${t("bench.waiting.drifted_gauge")}` : "",
    follows ? ` ${t("bench.waiting.follows", { what: plain(follows) })}` : "",
  ].join("");
}

export function older(count) {
  return t("bench.waiting.older", { count });
}

// What is known of an instrument beside its connection.
export function about(one) {
  return [setting(one), extension(one), one.temperature ? `${trimmed(one.temperature.celsius)} °C` : ""].filter(Boolean);
}

function setting(one) {
  if (one.setting) return t("bench.instrument.set_on", { standard: one.setting.standard, size: `${one.setting.size} ${one.setting.unit}` });
  return one.comparative ? t("bench.instrument.not_set") : "";
}

function extension({ extension: fitted }) {
  if (!fitted) return "";
  const length = `${fitted.length} ${fitted.unit}`;
  return fitted.angle === "0"
    ? t("bench.instrument.extension", { length })
    : t("bench.instrument.extension_at", { length, angle: fitted.angle });
}

export function openSet(one) {
  return t("bench.instrument.open_set", { count: one.set.readings });
}
