// The last press: what was sent, whether it is stored, what it says.

import { element, facts, make, redraw, write } from "./dom.js";
import { hidden } from "./blind.js";
import { now } from "./now.js";
import { shown } from "./numbers.js";
import { where } from "./place.js";
import { reason } from "./reasons.js";
import { shape } from "./shapes.js";
import * as words from "./words.js";

export function last(reading, step) {
  element("void").hidden = !reading || reading.placement?.reason?.code === "void";
  if (!reading) {
    picture(null);
    return nothing();
  }
  const blind = hidden(reading, step);
  picture(blind ? null : reading);
  const verdict = outcome(reading);
  element("last").dataset.result = verdict.result;
  write("digits", blind ? "hidden" : words.digits(reading));
  element("digits").dataset.wide = reading.bracket ? "yes" : "no";
  write("unit", blind ? "" : words.unit(reading));
  write("stored", reading.late ? `${words.STORED} late` : words.STORED);
  element("stored").dataset.stored = "yes";
  redraw(element("verdict"), verdict, () => [...(verdict.taken ? [] : [shape(verdict.result)]), make("span", verdict.text)]);
  write("placed", placed(reading, blind));
  facts("last-facts", blind ? [from(reading)] : said(reading));
  return undefined;
}

function picture(reading) {
  const { trace } = reading ?? {};
  element("trace").hidden = !trace;
  if (!trace) return;
  element("trace").href = `/v1/traces/${trace.sha256}?as=svg&reading=${reading.seq}`;
  write("trace", trace.found.kind === "turning" ? "Picture of the turning test" : "Picture of the pull");
}

function nothing() {
  element("last").dataset.result = "";
  write("digits", "–");
  for (const id of ["unit", "stored"]) write(id, "");
  delete element("stored").dataset.stored;
  redraw(element("verdict"), null, () => []);
  write("placed", "No reading yet. Press SEND on an instrument.");
  facts("last-facts", []);
}

// Presses are held that are not on disk: the last stored one must not be taken for them.
export function notStored(reading, step) {
  write("digits", "– – –");
  write("unit", "");
  write("stored", words.NOT_STORED);
  element("stored").dataset.stored = "no";
  redraw(element("verdict"), null, () => []);
  write("placed", reading && !hidden(reading, step) ? words.lastStored(reading) : "");
  facts("last-facts", []);
  element("void").hidden = true;
  picture(null);
}

// The verdict in a word; of a zero check whether the zero has stayed. Readings of a study, and
// preloads, are taken and that is all: nothing is wrong with them.
export function outcome(reading) {
  const { zero, verdict } = reading;
  if (!zero || reading.placement?.reason?.code === "void") {
    const taken = ["study", "check"].includes(reading.placement?.kind) && verdict.result === "not_evaluated";
    return taken
      ? { result: "not_evaluated", text: "Taken", taken }
      : { result: verdict.result, text: words.VERDICTS[verdict.result] };
  }
  if (zero.steady === null) return { result: "not_evaluated", text: "Zero check: not evaluated" };
  return zero.steady
    ? { result: "conforming", text: zero.readings ? "Zero has stayed" : "Zero checked" }
    : { result: "nonconforming", text: "Zero has moved" };
}

function placed(reading, blind) {
  const { placement } = reading;
  if (!placement.reason) {
    return [title(placement), where(placement)].filter(Boolean).join(" · ");
  }
  const { code, detail } = placement.reason;
  if (blind) return `${reason(code)}.`;
  return code === "void" ? detail : `${reason(code)}. ${detail}`;
}

// What the step is called in its spec; a build that is not shown here has no titles.
function title({ build, operation, characteristic }) {
  const { build: shown } = now();
  const found = shown?.id === build ? shown.operations.find((one) => one.id === operation) : null;
  return found?.title ?? words.plain(characteristic);
}

function said(reading) {
  const { verdict } = reading;
  return [
    ["Measured", measured(reading)],
    ["As it was", verdict.uncorrected ? `${verdict.uncorrected} ${verdict.unit}, not at 20 °C` : ""],
    ["Limits", verdict.measured && !reading.zero ? words.limits(verdict.lower, verdict.upper, verdict.unit) : ""],
    ["Uncertainty", verdict.measured ? uncertainty(verdict) : ""],
    ["Rule", reading.zero ? "" : verdict.rule ?? ""],
    ["Drift", drift(reading.drift)],
    ["Pull", (reading.trace?.found.sentences ?? []).join(" ")],
    ["Notes", notes(reading)],
    from(reading),
  ];
}

function from(reading) {
  return ["From", reading.instrument + (reading.simulated ? " (simulated)" : "") + (reading.typed ? " (typed)" : "")];
}

function measured(reading) {
  const { verdict } = reading;
  if (!verdict.measured) return "";
  if (verdict.bracket) return `${words.between(...verdict.bracket)} ${verdict.unit}`;
  const sent = { digits: reading.corrected?.digits ?? reading.value, unit: words.unit(reading) };
  return `${shown(verdict, sent)} ${verdict.unit}${verdict.uncorrected ? " at 20 °C" : ""}`;
}

function uncertainty(verdict) {
  return verdict.expanded_uncertainty
    ? `± ${verdict.expanded_uncertainty} ${verdict.unit}, k = ${verdict.coverage_factor}`
    : "not established";
}

// What is said above already is left out.
function notes(reading) {
  const { drift: mark, verdict } = reading;
  return (verdict.notes ?? []).filter((note) => !(
    (verdict.uncorrected && note.startsWith("brought to 20 °C from"))
    || (mark && note.startsWith("the gauge's zero moved by"))
  )).join("; ");
}

function drift(mark) {
  if (!mark) return "";
  return `marked: the gauge's zero moved by ${mark.drift} ${mark.unit} over its set, beyond U = ${mark.expanded_uncertainty} ${mark.unit}`;
}
