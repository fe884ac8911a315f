// Entering between which two values a size lies: feeler leaves, or the settings of a click tool.

import { BACK, ask, flow } from "./dialog.js";
import { make } from "./dom.js";
import { named, t } from "./labels.js";
import { larger, sum } from "./numbers.js";
import { reason } from "./reasons.js";
import { shape } from "./shapes.js";
import { sendFor } from "./stepseen.js";
import * as words from "./words.js";

// The instruments of this bench whose reading at this step is a bracket.
export function bracketing(step, state) {
  if (!step.bracketed) return [];
  return (state.instruments ?? []).filter((one) => step.instruments.includes(one.kind)
    && (one.leaves?.length || (one.kind === "click-wrench" && step.kind === "turn")));
}

export function enter(step, state) {
  const tools = bracketing(step, state);
  return flow(async () => {
    const tool = tools.length > 1 ? await which(tools) : tools[0];
    let again = Boolean(tool);
    while (again) {
      const answer = await pages(step, tool, tool.leaves?.length ? leaves(tool) : settings(tool));
      again = answer !== null && await told(answer);
    }
  });
}

export async function which(tools) {
  const options = tools.map((one) => [one.id, one.id]);
  const said = await ask({
    label: t("bench.bracket.which"), done: t("bench.ask.go_on"), fields: [{ name: "tool", label: t("bench.bracket.instrument"), kind: "tiles", options }],
  });
  return said && tools.find((one) => one.id === said.tool);
}

// Asks page after page; the last one sends. Null where it was left.
async function pages(step, tool, list) {
  const said = {};
  let at = 0;
  for (;;) {
    const page = list[at](said);
    const last = at === list.length - 1;
    const act = last ? (values) => send(step, tool, { ...said, ...values }) : null;
    const found = page && await ask({ ...page, act, back: at > 0, done: last ? t("bench.ask.do") : t("bench.ask.go_on") });
    if (found === null && page) return null;
    if (last && found !== BACK) return found;
    if (found && found !== BACK) Object.assign(said, found);
    at += found === BACK ? -1 : 1;
    // What is not asked is passed over on the way back as well.
    while (found === BACK && at > 0 && !list[at](said)) at -= 1;
  }
}

function send(step, tool, said) {
  const bracket = tool.leaves?.length ? ofLeaves(said) : { lower: said.clicked, upper: said.turned };
  return sendFor(step, { instrument: tool.id, unit: tool.unit, bracket });
}

function ofLeaves({ goes, one, other, stops }) {
  const upper = stops.length ? sum(stops) : null;
  if (goes.length === 0) return { lower: null, upper };
  return { lower: sum(goes), upper, leaves: goes, beside: [one || null, other || null] };
}

// For a feeler set. The neighbours are how a leaf hidden behind another is found, so nothing is
// chosen for the one who looks.
function leaves(tool) {
  const all = tool.leaves.map((leaf) => [leaf, leaf]);
  const goes = (said) => `${said.goes.join(" + ")} ${tool.unit}`;
  const beside = (name, label) => (said) => (said.goes.length === 0 ? null : {
    label,
    what: t("bench.bracket.fan", { goes: goes(said) }),
    fields: [{
      name,
      label: said.goes.length > 1 ? t("bench.bracket.beside_stack") : t("bench.bracket.beside", { leaf: said.goes[0] }),
      kind: "tiles", typed: true,
      options: [...all.filter(([leaf]) => !said.goes.includes(leaf)), ["", t("bench.bracket.end")]],
    }],
  });
  return [
    () => ({
      label: t("bench.bracket.goes"),
      what: t("bench.bracket.thickest", { instrument: tool.id }),
      fields: [{
        name: "goes", label: t("bench.bracket.goes_leaf", { unit: tool.unit }), kind: "tiles", stacks: true, typed: true,
        hint: t("bench.bracket.by_typing"), options: [...all, ["", t("bench.bracket.none_goes")]],
      }],
    }),
    beside("one", t("bench.bracket.one_side")),
    beside("other", t("bench.bracket.other_side")),
    (said) => ({
      label: t("bench.bracket.stops"),
      what: said.goes.length ? t("bench.bracket.stops_next", { goes: goes(said) }) : t("bench.bracket.stops_thinnest"),
      fields: [{
        name: "stops", label: t("bench.bracket.stops_leaf", { unit: tool.unit }), kind: "tiles", stacks: true, typed: true,
        options: [...all.filter(([leaf]) => said.goes.length !== 1 || larger(leaf, said.goes[0])), ["", t("bench.bracket.all_go")]],
      }],
    }),
  ];
}

function settings(tool) {
  const { unit } = tool;
  return [
    () => ({
      label: t("bench.bracket.clicked"),
      what: t("bench.bracket.clicked_what", { instrument: tool.id }),
      fields: [{ name: "clicked", label: t("bench.bracket.clicked_setting", { unit }), kind: "number", optional: true, hint: t("bench.bracket.clicked_hint") }],
    }),
    (said) => ({
      label: t("bench.bracket.turned"),
      what: said.clicked ? t("bench.bracket.turned_after", { clicked: `${said.clicked} ${unit}` }) : t("bench.bracket.turned_lowest"),
      fields: [{ name: "turned", label: t("bench.bracket.turned_setting", { unit }), kind: "number", optional: true, hint: t("bench.bracket.turned_hint") }],
    }),
  ];
}

// Says what became of it; whether it is to be entered again.
async function told(answer) {
  const { placement, verdict } = answer;
  if (placement.reason) {
    const { code, detail } = placement.reason;
    const said = await ask({
      label: t("bench.bracket.not_counted", { reason: reason(code) }),
      what: detail,
      content: [make("p", t("bench.bracket.stays", { size: words.size(answer) }))],
      done: t("bench.bracket.again"),
    });
    return said !== null;
  }
  const line = make("p", "", "outcome");
  line.dataset.result = verdict.result;
  line.append(shape(verdict.result), make("span", named("common.verdict", verdict.result)));
  await ask({
    label: words.size(answer),
    what: words.limits(verdict.lower, verdict.upper, verdict.unit),
    content: [line, ...(verdict.notes ?? []).map((note) => make("p", note))],
    done: t("bench.ask.go_on"),
    leave: null,
  });
  return false;
}
