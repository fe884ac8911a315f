// What the build wants next.

import { element, facts, list, write } from "./dom.js";
import { where } from "./place.js";
import { typed } from "./type.js";
import { bracketing } from "./bracket.js";
import * as words from "./words.js";

// More facts and cautions than this would not fit on a screen in letters for two metres.
const MUCH = 4;
// Their text says in one sentence who does what, with what and where.
const SPOKEN = ["zero", "study", "check"];

export function next(state) {
  const step = state.next?.step ?? null;
  const none = !state.build
    ? "No build is open"
    : state.next?.done ? "Every step is done" : "Nothing can go on until a result is settled";
  write("next-label", step ? `Next: ${words.KINDS[step.kind].toLowerCase()}` : "Next");
  write("next-title", step ? step.title : none);
  write("next-where", !step ? "" : SPOKEN.includes(step.kind) ? step.text : where(step));
  facts("next-facts", step ? said(step, state) : []);
  list("cautions", step?.cautions ?? []);
  const much = element("next-facts").children.length / 2 + (step?.cautions ?? []).length;
  element("next").dataset.full = much > MUCH ? "yes" : "no";
  element("confirm").hidden = step?.kind !== "confirm";
  element("bracket").hidden = !step || bracketing(step, state).length === 0;
  element("type").hidden = !step || typed(step, state).length === 0;
}

function said(step, state) {
  return [
    ["Torque", step.target && step.kind === "tighten" ? `${step.target} ${step.unit}` : ""],
    ["Threads", step.lubricant ?? ""],
    ["Set", settings(step)],
    ["With", (step.instruments ?? []).map(words.plain).join(" or ")],
    ["Standard", step.kind === "zero" ? standards(step, state) : ""],
    ["Limits", limits(step)],
    ["Between", between(step)],
    ["Pass", SPOKEN.includes(step.kind) && step.pass > 1 ? String(step.pass) : ""],
    ["Blind", step.kind === "study" ? "earlier readings of this sample are not shown" : ""],
    ["To confirm", step.kind === "confirm" ? step.text : ""],
  ];
}

function limits(step) {
  const none = step.lower == null && step.upper == null;
  if (["confirm", "zero", "study"].includes(step.kind) || (none && step.kind === "check")) return "";
  return words.limits(step.lower, step.upper, step.unit);
}

function between(step) {
  if (!step.bracketed) return "";
  return step.kind === "turn"
    ? "the last setting that clicks without turning it, and the first that turns it"
    : "the leaf that goes, and the next that does not";
}

// What each tool with an extension on it has to be set to.
function settings(step) {
  return Object.entries(step.tool_settings ?? {})
    .map(([tool, setting]) => `${tool} to ${setting} ${step.unit}, its extension on`)
    .join("; ");
}

function standards(step, state) {
  return (state.instruments ?? [])
    .filter((one) => one.comparative && step.instruments.includes(one.kind))
    .map((one) => (one.setting
      ? `${one.id} on ${one.setting.standard}, ${one.setting.size} ${one.setting.unit}`
      : `${one.id} is not set on a standard yet`))
    .join("; ");
}
