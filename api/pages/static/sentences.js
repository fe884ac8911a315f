// What the voice says: short sentences, put together from what the page knows.

import { t, named } from "./labels.js";
import { brief, larger } from "./numbers.js";
import { where } from "./place.js";
import { reason } from "./reasons.js";
import { digits, size } from "./spell.js";
import * as words from "./words.js";

// Their text says in one sentence who does what, with what and where.
const WHOLE = ["zero", "study", "check", "confirm"];

// What was read, and what it says. Of a study nothing but that it was taken: the next one is blind.
// `mend`: what is suggested for one that answers no step.
export function verdict(reading, outcome, mend = null) {
  const { placement, zero } = reading;
  if (placement.kind === "study") return [`${outcome.text}.`];
  const code = placement.reason?.code;
  if (code === "void") return [t("hands.say.voided", { size: read(reading) })];
  const found = `${read(reading)}. ${outcome.text}.`;
  if (zero || !code) return [[found, side(reading)].filter(Boolean).join(" ")];
  return [`${found} ${reason(code)}.`, ...(mend ? [ended(t("hands.say.suggested", { what: mend }))] : [])];
}

function read(reading) {
  const { bracket } = reading;
  const unit = words.unit(reading);
  if (!bracket) return size(reading.corrected?.digits ?? reading.value, unit);
  const { lower, upper } = bracket;
  if (lower == null) return t("hands.say.below", { size: size(upper, unit) });
  if (upper == null) return t("hands.say.or_more", { size: size(lower, unit) });
  return t("hands.say.between", { lower: digits(lower), upper: size(upper, unit) });
}

// On which side of its limits: whoever reworks the part wants to know it first.
function side({ verdict: { result, measured, lower, upper, unit } }) {
  if (result !== "nonconforming" || !measured) return "";
  if (upper != null && larger(measured, upper)) return t("hands.say.above", { limit: limit(upper, unit) });
  if (lower != null && larger(lower, measured)) return t("hands.say.under", { limit: limit(lower, unit) });
  return "";
}

// One that was computed may have more decimals than anybody can follow.
function limit(text, unit) {
  return size(brief(text).replace("≈ ", ""), unit);
}

// What the build wants next, without its cautions.
export function next({ build, next: wanted }) {
  const step = wanted?.step;
  if (!build) return t("hands.say.no_build");
  if (!step) return wanted?.done ? t("hands.say.done") : t("hands.say.held");
  const kind = named("common.kind", step.kind);
  if (WHOLE.includes(step.kind)) return ended(t("hands.say.next", { kind, what: step.text || step.title }));
  const at = where(step).replaceAll(" · ", ", ");
  const what = [step.title, at].filter(Boolean).join(", ");
  return [ended(t("hands.say.next", { kind, what })), target(step), tools(step)].filter(Boolean).join(" ");
}

function target({ kind, target: wanted, unit }) {
  if (kind !== "tighten" || !wanted) return "";
  const said = size(wanted, unit);
  return unit === "°" ? t("hands.say.angle", { size: said }) : t("hands.say.torque", { size: said });
}

function tools({ instruments }) {
  const names = (instruments ?? []).map(words.tool);
  return names.length ? t("hands.say.with", { instruments: words.either(names) }) : "";
}

function ended(text) {
  return /[.!?]$/u.test(text) ? text : `${text}.`;
}
