// Why a verdict is as it is: the bytes, the size, limits, rule and uncertainty, and where it stands in
// the ledger. Copied as plain text.

import { element, facts, write } from "./dom.js";
import { named, t } from "./labels.js";
import { measured, title, uncertainty } from "./last.js";
import { now } from "./now.js";
import { where } from "./place.js";
import { reason } from "./reasons.js";
import * as service from "./service.js";
import * as words from "./words.js";

let shown = [];
let asked = null;

export async function why(seq) {
  asked = seq;
  write("why-label", t("bench.why.label", { seq }));
  write("why-told", t("bench.why.coming"));
  facts("why-facts", []);
  element("why-copy").disabled = true;
  element("why-link").href = `/readings/${seq}`;
  const dialog = element("why-panel");
  if (!dialog.open) dialog.showModal();
  try {
    const [reading, budget, grounds] = await Promise.all([
      service.get(`/v1/readings/${seq}`),
      service.get(`/v1/readings/${seq}/budget`).catch(() => null),
      cited(seq).catch(() => ({})),
    ]);
    if (asked !== seq) return;
    shown = told(reading, budget, grounds).filter(([, value]) => value);
    facts("why-facts", shown);
    write("why-told", "");
    element("why-copy").disabled = false;
    element("why-copy").focus();
  } catch (error) {
    if (asked === seq) write("why-told", service.plainly(error));
  }
}

// The instrument and its setting as they were at the press, which the decision made with it cites:
// the bench may have others by now.
async function cited(seq) {
  const { cites } = (await service.get(`/v1/entries/${seq + 1}`)).body;
  const body = async (at) => (at ? (await service.get(`/v1/entries/${at}`)).body : null);
  const [record, setting] = await Promise.all([body(cites.instrument), body(cites.setting)]);
  return { record, setting };
}

function told(reading, budget, grounds) {
  const { verdict, placement } = reading;
  const at = (name) => (verdict[name] == null ? "" : `${verdict[name]} ${verdict.unit}`);
  return [
    [t("bench.why.bytes"), hex(reading.raw)],
    [t("bench.why.printable"), printable(reading.raw)],
    [t("bench.why.value"), sent(reading)],
    [t("bench.why.corrected"), reading.corrected ? `${reading.corrected.digits} ${reading.corrected.unit}` : ""],
    [t("bench.why.flags"), (reading.flags ?? []).join(", ")],
    [t("bench.why.measured"), measured(reading)],
    [t("bench.why.as_it_was"), at("uncorrected")],
    [t("bench.why.limits"), verdict.measured || verdict.bracket ? words.limits(verdict.lower, verdict.upper, verdict.unit) : ""],
    [t("bench.why.rule"), verdict.rule ? named("bench.rule", verdict.rule) : ""],
    [t("bench.why.guard"), at("guard_band")],
    [t("bench.why.uncertainty"), verdict.measured ? uncertainty(verdict) : ""],
    ...contributions(budget),
    [t("bench.why.probability"), probability(budget?.probability_of_conformance)],
    [t("bench.why.verdict"), [named("common.verdict", verdict.result), verdict.because ?? ""].filter(Boolean).join(": ")],
    [t("bench.why.notes"), (verdict.notes ?? []).join("; ")],
    [t("bench.why.placed"), placement.reason
      ? `${reason(placement.reason.code)}. ${placement.reason.detail}`
      : [title(placement), where(placement), placement.step, placement.build].filter(Boolean).join(" · ")],
    [t("bench.why.decided"), [named("bench.decided", reading.decided_by), reading.because ?? ""].filter(Boolean).join(": ")],
    ...instrument(reading, grounds),
    [t("bench.why.operator"), reading.operator ?? ""],
    [t("bench.why.received"), reading.received_at],
    [t("bench.why.ledger"), t("bench.why.entries", { press: reading.seq, decision: reading.decision_seq })],
  ];
}

function sent(reading) {
  const size = reading.bracket ? words.size(reading) : `${reading.value} ${reading.unit}`;
  return reading.typed ? t("bench.why.typed", { size }) : size;
}

// What the expanded uncertainty is made of, each with its part of the variance.
function contributions(budget) {
  if (!budget?.established) return [];
  const lines = budget.lines.map((one) => `${named("bench.contribution", one.name)} ± ${brief(one.expanded_uncertainty)} ${budget.unit} (${percent(one.share)})`);
  return [[t("bench.why.made_of"), lines.join("; ")]];
}

function brief(number) {
  return number === null ? "" : String(Number(number.toPrecision(2)));
}

// A normal distribution never reaches certainty, whatever the float says.
function probability(part) {
  if (part == null) return "";
  return part > 0.999 ? t("bench.why.likely") : percent(part);
}

function percent(part) {
  return `${(100 * part).toFixed(part > 0 && part < 0.1 ? 1 : 0)} %`;
}

function instrument(reading, { record: one = null, setting = null }) {
  const mark = reading.simulated ? ` (${t("common.simulated_word")})` : "";
  const { calibration } = one ?? {};
  return [
    [t("bench.why.instrument"), [`${reading.instrument}${mark}`, one ? words.tool(one.kind) : "", one?.profile ?? ""].filter(Boolean).join(", ")],
    [t("bench.why.calibration"), !one ? "" : calibration
      ? t("bench.why.certificate", { certificate: calibration.certificate, due: calibration.due, uncertainty: `${calibration.expanded_uncertainty} ${one.unit}`, k: calibration.coverage_factor })
      : t("bench.why.no_certificate")],
    [t("bench.why.set"), setting ? `${setting.standard}, ${setting.size} ${setting.unit}` : ""],
  ];
}

function bytes(raw) {
  return raw.match(/../gu) ?? [];
}

function hex(raw) {
  return bytes(raw).join(" ");
}

// Of the bytes that print; the others as a middle dot, as many as there are.
function printable(raw) {
  return bytes(raw).map((one) => {
    const code = parseInt(one, 16);
    return code >= 0x20 && code < 0x7f ? String.fromCharCode(code) : "·";
  }).join("");
}

export function text() {
  return [element("why-label").textContent, ...shown.map(([name, value]) => `${name}: ${value}`)].join("\n");
}

// A browser gives the clipboard only to a page of this computer or over HTTPS; elsewhere the text is
// there to be copied by hand.
async function copy() {
  try {
    await navigator.clipboard.writeText(text());
    write("why-told", t("bench.why.copied"));
  } catch {
    const field = element("why-text");
    field.hidden = false;
    field.value = text();
    field.focus();
    field.select();
    write("why-told", t("bench.why.by_hand"));
  }
}

export function open() {
  element("why").onclick = () => why(now().last.seq);
  element("why-copy").onclick = copy;
  element("why-close").onclick = () => element("why-panel").close();
  element("why-panel").onclose = () => { element("why-text").hidden = true; };
}
