// Entering between which two values a size lies: feeler leaves, or the settings of a click tool.

import { BACK, ask, flow } from "./dialog.js";
import { make } from "./dom.js";
import { larger, sum } from "./numbers.js";
import { reason } from "./reasons.js";
import * as service from "./service.js";
import { shape } from "./shapes.js";
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
      const answer = await pages(tool, tool.leaves?.length ? leaves(tool) : settings(tool));
      again = answer !== null && await told(answer);
    }
  });
}

export async function which(tools) {
  const options = tools.map((one) => [one.id, one.id]);
  const said = await ask({
    label: "With which one?", done: "Go on", fields: [{ name: "tool", label: "Instrument", kind: "tiles", options }],
  });
  return said && tools.find((one) => one.id === said.tool);
}

// Asks page after page; the last one sends. Null where it was left.
async function pages(tool, list) {
  const said = {};
  let at = 0;
  for (;;) {
    const page = list[at](said);
    const last = at === list.length - 1;
    const act = last ? (values) => send(tool, { ...said, ...values }) : null;
    const found = page && await ask({ ...page, act, back: at > 0, done: last ? "Record it" : "Go on" });
    if (found === null && page) return null;
    if (last && found !== BACK) return found;
    if (found && found !== BACK) Object.assign(said, found);
    at += found === BACK ? -1 : 1;
    // What is not asked is passed over on the way back as well.
    while (found === BACK && at > 0 && !list[at](said)) at -= 1;
  }
}

function send(tool, said) {
  const bracket = tool.leaves?.length ? ofLeaves(said) : { lower: said.clicked, upper: said.turned };
  return service.post("/v1/readings", { instrument: tool.id, unit: tool.unit, bracket });
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
    what: `${goes(said)} goes. Look at the fan, not at the number you expect.`,
    fields: [{
      name,
      label: said.goes.length > 1 ? "Leaf beside the stack" : `Leaf beside ${said.goes[0]}`,
      kind: "tiles",
      options: [...all.filter(([leaf]) => !said.goes.includes(leaf)), ["", "None: an end of the fan"]],
    }],
  });
  return [
    () => ({
      label: "Which leaf goes?",
      what: `Of ${tool.id}: the thickest that goes in, with a light drag.`,
      fields: [{
        name: "goes", label: `Leaf that goes (${tool.unit})`, kind: "tiles", stacks: true,
        options: [...all, ["", "Not even the thinnest"]],
      }],
    }),
    beside("one", "Which leaf lies on one side of it?"),
    beside("other", "And on the other side?"),
    (said) => ({
      label: "Which does not go?",
      what: said.goes.length ? `${goes(said)} goes. The next that does not:` : "The thinnest, which does not go:",
      fields: [{
        name: "stops", label: `Leaf that does not go (${tool.unit})`, kind: "tiles", stacks: true,
        options: [...all.filter(([leaf]) => said.goes.length !== 1 || larger(leaf, said.goes[0])), ["", "The thickest goes too"]],
      }],
    }),
  ];
}

function settings(tool) {
  const unit = `(${tool.unit})`;
  return [
    () => ({
      label: "Last setting that clicked",
      what: `Of ${tool.id}: it clicked, and nothing turned.`,
      fields: [{ name: "clicked", label: `Setting that clicked ${unit}`, kind: "number", optional: true, hint: "Empty, if it turned at the lowest setting." }],
    }),
    (said) => ({
      label: "First setting that turned it",
      what: said.clicked ? `At ${said.clicked} ${tool.unit} it clicked.` : "It turned at the lowest setting.",
      fields: [{ name: "turned", label: `Setting that turned it ${unit}`, kind: "number", optional: true, hint: "Empty, if it did not turn at the highest setting." }],
    }),
  ];
}

// Says what became of it; whether it is to be entered again.
async function told(answer) {
  const { placement, verdict } = answer;
  if (placement.reason) {
    const { code, detail } = placement.reason;
    const said = await ask({
      label: `Not counted: ${reason(code).toLowerCase()}`,
      what: detail,
      content: [make("p", `${words.size(answer)} stays stored and waits for a decision.`)],
      done: "Enter it again",
    });
    return said !== null;
  }
  const line = make("p", "", "outcome");
  line.dataset.result = verdict.result;
  line.append(shape(verdict.result), make("span", words.VERDICTS[verdict.result]));
  await ask({
    label: words.size(answer),
    what: words.limits(verdict.lower, verdict.upper, verdict.unit),
    content: [line, ...(verdict.notes ?? []).map((note) => make("p", note))],
    done: "Go on",
    leave: null,
  });
  return false;
}
