// The last press: what was sent, whether it is stored, what it says.

import { bar } from "./bar.js";
import { element, facts, make, redraw, write } from "./dom.js";
import { hidden } from "./blind.js";
import { named, t } from "./labels.js";
import { now } from "./now.js";
import { shown } from "./numbers.js";
import { where } from "./place.js";
import { reason } from "./reasons.js";
import { shape } from "./shapes.js";
import { lastAge } from "./stale.js";
import * as words from "./words.js";

export function last(reading, step) {
  lastAge();
  element("void").hidden = !reading || reading.placement?.reason?.code === "void";
  const blind = hidden(reading, step);
  element("why").hidden = !reading || blind;
  picture(blind ? null : reading);
  bar(blind ? null : reading);
  if (!reading) return nothing();
  const verdict = outcome(reading);
  element("last").dataset.result = verdict.result;
  write("digits", blind ? t("bench.last.hidden") : words.digits(reading));
  element("digits").dataset.wide = reading.bracket ? "yes" : "no";
  write("unit", blind ? "" : words.unit(reading));
  write("stored", reading.late ? t("bench.last.stored_late") : t("bench.last.stored"));
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
  write("trace", trace.found.kind === "turning" ? t("bench.last.turning_picture") : t("bench.last.picture"));
}

function nothing() {
  element("last").dataset.result = "";
  write("digits", "–");
  for (const id of ["unit", "stored"]) write(id, "");
  delete element("stored").dataset.stored;
  redraw(element("verdict"), null, () => []);
  const wired = (now().instruments ?? []).some((one) => one.port !== "typed");
  write("placed", wired ? t("bench.last.none") : t("bench.last.none_typed"));
  facts("last-facts", []);
}

// Presses are held that are not on disk: the last stored one must not be taken for them.
export function notStored(reading, step) {
  write("digits", "– – –");
  write("unit", "");
  write("stored", t("bench.last.not_stored"));
  element("stored").dataset.stored = "no";
  redraw(element("verdict"), null, () => []);
  write("placed", reading && !hidden(reading, step) ? words.lastStored(reading) : "");
  facts("last-facts", []);
  for (const id of ["void", "why"]) element(id).hidden = true;
  picture(null);
  bar(null);
}

// The verdict in a word; of a zero check whether the zero has stayed. Readings of a study, and
// preloads, are taken and that is all: nothing is wrong with them.
export function outcome(reading) {
  const { zero, verdict } = reading;
  if (reading.placement?.reason?.code === "void") return { result: "not_evaluated", text: reason("void") };
  if (!zero) {
    const taken = ["study", "check"].includes(reading.placement?.kind) && verdict.result === "not_evaluated";
    return taken
      ? { result: "not_evaluated", text: t("bench.last.taken"), taken }
      : { result: verdict.result, text: named("common.verdict", verdict.result) };
  }
  if (zero.steady === null) return { result: "not_evaluated", text: t("bench.last.zero_unknown") };
  return zero.steady
    ? { result: "conforming", text: zero.readings ? t("bench.last.zero_stayed") : t("bench.last.zero_checked") }
    : { result: "nonconforming", text: t("bench.last.zero_moved") };
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
export function title({ build, operation, characteristic }) {
  const { build: shownBuild } = now();
  const found = shownBuild?.id === build ? shownBuild.operations.find((one) => one.id === operation) : null;
  return found?.title ?? words.plain(characteristic);
}

function said(reading) {
  const { verdict } = reading;
  const { unit } = verdict;
  // What is said large, or drawn, is not said again.
  const same = measured(reading) === words.size(reading).replace("−", "-");
  const drawn = !element("bar").hidden;
  return [
    [t("bench.last.measured"), same ? "" : measured(reading)],
    [t("bench.last.as_it_was"), verdict.uncorrected ? t("bench.last.not_at_20", { size: `${verdict.uncorrected} ${unit}` }) : ""],
    [t("bench.last.limits"), verdict.measured && !reading.zero && !drawn ? words.limits(verdict.lower, verdict.upper, unit) : ""],
    [t("bench.last.uncertainty"), verdict.measured ? uncertainty(verdict) : ""],
    [t("bench.last.rule"), reading.zero || !verdict.rule ? "" : named("bench.rule", verdict.rule)],
    [t("bench.last.drift"), drift(reading.drift)],
    [t("bench.last.pull"), (reading.trace?.found.sentences ?? []).join(" ")],
    [t("bench.last.notes"), notes(reading)],
    from(reading),
  ];
}

function from(reading) {
  const marks = [
    ...(reading.simulated ? [t("common.simulated_word")] : []),
    ...(reading.typed ? [t("bench.last.typed")] : []),
  ];
  return [t("bench.last.from"), [reading.instrument, ...marks.map((one) => `(${one})`)].join(" ")];
}

export function measured(reading) {
  const { verdict } = reading;
  if (!verdict.measured) return "";
  if (verdict.bracket) return `${words.between(...verdict.bracket)} ${verdict.unit}`;
  const sent = { digits: reading.corrected?.digits ?? reading.value, unit: words.unit(reading) };
  const size = `${shown(verdict, sent)} ${verdict.unit}`;
  return verdict.uncorrected ? t("bench.last.at_20", { size }) : size;
}

export function uncertainty(verdict) {
  return verdict.expanded_uncertainty
    ? `± ${verdict.expanded_uncertainty} ${verdict.unit}, k = ${verdict.coverage_factor}`
    : t("bench.last.not_established");
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
  return t("bench.last.drifted", { drift: `${mark.drift} ${mark.unit}`, uncertainty: `${mark.expanded_uncertainty} ${mark.unit}` });
}
