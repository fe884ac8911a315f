// What the build wants next.

import * as after from "./after.js";
import { aim } from "./bar.js";
import * as confirming from "./confirm.js";
import { element, facts, list, make, redraw, write } from "./dom.js";
import { drawing } from "./drawing.js";
import { named, t } from "./labels.js";
import { where } from "./place.js";
import { lamp } from "./stale.js";
import { suited } from "./suited.js";
import { typed } from "./type.js";
import { bracketing } from "./bracket.js";
import * as words from "./words.js";

// The whole sentence of a step is longer than a place: its title and its drawing are seen from far.
const SENTENCE = 50;
// Their text says in one sentence who does what, with what and where.
const SPOKEN = ["zero", "study", "check"];

export function next(state) {
  const step = state.next?.step ?? null;
  write("next-label", step ? named("bench.next.kind", step.kind) : t("bench.next.label"));
  write("next-title", step ? step.title : none(state));
  write("next-where", !step ? "" : SPOKEN.includes(step.kind) ? step.text : where(step));
  write("next-text", step?.kind === "confirm" ? step.text : "");
  write("next-target", step?.target && step.kind === "tighten" ? `${step.target} ${step.unit}` : "");
  facts("next-facts", step ? said(step, state) : []);
  list("cautions", step?.cautions ?? []);
  element("next-where").dataset.long = element("next-where").textContent.length > SENTENCE ? "yes" : "no";
  element("confirm").hidden = step?.kind !== "confirm";
  element("bracket").hidden = !step || bracketing(step, state).length === 0;
  element("type").hidden = !step || typed(step, state).length === 0;
  after.draw(state);
  drawing(state.build, step);
  aim(state.build, step);
  confirming.drawn(state.build, step);
}

function none(state) {
  if (!state.build) return t("bench.next.no_build");
  return state.next?.done ? t("bench.next.done") : t("bench.next.held");
}

// The instruments of this bench that the step may be done with, each with how it is.
export function tools(step, state) {
  const kinds = step?.instruments ?? [];
  const states = new Map((state.devices ?? []).map((one) => [one.instrument, one]));
  const found = suited(step, state).map((one) => [one, states.get(one.id) ?? null]);
  const missing = kinds.length > 0 && found.length === 0 ? words.either(kinds.map(words.tool)) : "";
  // Of several that would do, the kind is what has to be seen from far.
  const kind = found.length > 1 ? words.either([...new Set(found.map(([one]) => words.tool(one.kind)))]) : "";
  redraw(element("tools"), [kind, found.map(([one, told]) => [one.id, told?.state, told?.since]), missing], () => [
    ...(kind ? [make("li", kind, "kind")] : []),
    ...found.map(([one, told]) => tool(one, told)),
    ...(missing ? [make("li", t("bench.next.no_instrument", { kind: missing }))] : []),
  ]);
  element("tools").hidden = kinds.length === 0;
}

function tool(one, told) {
  const node = make("li");
  node.dataset.state = one.port === "typed" ? "ready" : told?.state ?? "closed";
  node.append(lamp(), make("b", one.id));
  if (node.dataset.state !== "ready") node.append(make("span", words.device(told), "word"));
  return node;
}

function said(step, state) {
  return [
    [t("bench.next.threads"), step.lubricant ?? ""],
    [t("bench.next.set"), settings(step)],
    [t("bench.next.standard"), step.kind === "zero" ? standards(step, state) : ""],
    [t("bench.next.limits"), limits(step)],
    [t("bench.next.between"), between(step)],
    [t("bench.next.pass"), SPOKEN.includes(step.kind) && step.pass > 1 ? String(step.pass) : ""],
    [t("bench.next.blind"), step.kind === "study" ? t("bench.next.blind_what") : ""],
  ];
}

function limits(step) {
  const none_ = step.lower == null && step.upper == null;
  if (["confirm", "zero", "study"].includes(step.kind) || (none_ && step.kind === "check")) return "";
  return words.limits(step.lower, step.upper, step.unit);
}

function between(step) {
  if (!step.bracketed) return "";
  return step.kind === "turn" ? t("bench.next.between_settings") : t("bench.next.between_leaves");
}

// What each tool with an extension on it has to be set to.
function settings(step) {
  return Object.entries(step.tool_settings ?? {})
    .map(([tool_, setting]) => t("bench.next.setting", { tool: tool_, setting: `${setting} ${step.unit}` }))
    .join("; ");
}

// Those that are set on one; where none is, that is what has to be done.
function standards(step, state) {
  const gauges = (state.instruments ?? []).filter((one) => one.comparative && step.instruments.includes(one.kind));
  const set = gauges.filter((one) => one.setting);
  if (set.length === 0) return gauges.map((one) => t("bench.next.no_standard", { instrument: one.id })).join("; ");
  return set.map((one) => t("bench.next.on_standard", {
    instrument: one.id, standard: one.setting.standard, size: `${one.setting.size} ${one.setting.unit}`,
  })).join("; ");
}
