// Another open step: work need not go in the order that the spec gives where nothing keeps it waiting.

import { ask, BACK, flow } from "./dialog.js";
import { element } from "./dom.js";
import { t } from "./labels.js";
import { say } from "./message.js";
import { now } from "./now.js";
import { where } from "./place.js";
import * as service from "./service.js";
import * as words from "./words.js";

// The first choice: as the spec gives it.
const ORDER = "in order";
// So many stand one below the other without scrolling.
const FEW = 8;

export function draw({ build, next }) {
  element("choose").hidden = !build || build.closed || !(next?.step || next?.chosen);
}

const OTHER = {
  label: () => t("hands.choose.label"),
  what: () => t("hands.choose.what"),
  which: () => t("hands.choose.which"),
  done: () => t("hands.choose.do"),
  act: (step) => choose(step.id),
};

export function open() {
  const { build, next } = now();
  return flow(async () => {
    const operations = await openOperations(build);
    for (;;) {
      const name = await operation(operations, OTHER, next.chosen);
      if (name === null) return;
      const found = operations.find((one) => one.id === name);
      const step = name === ORDER ? null : await place(found, OTHER);
      if (step === BACK) continue;
      if (step !== undefined) say(step ? t("hands.choose.now", { step: `${found.title}, ${where(step)}` }) : t("hands.choose.in_order"));
      return;
    }
  });
}

// The operations with their open steps: [{ id, title, steps }].
export async function openOperations(build) {
  return grouped(await steps(build), build);
}

async function steps(build) {
  try {
    const { steps: all } = await service.get(`/v1/builds/${build.id}/steps`);
    return all.filter((one) => one.open);
  } catch (error) {
    say(service.plainly(error), false);
    return [];
  }
}

// The operations that have open steps, each with the first of every place.
function grouped(open, build) {
  return build.operations
    .map(({ id, title }) => ({ id, title: title ?? words.plain(id), steps: firsts(open.filter((one) => one.operation === id)) }))
    .filter((one) => one.steps.length > 0);
}

function firsts(steps) {
  const seen = new Map(steps.toReversed().map((one) => [`${one.number} ${one.point}`, one]));
  return steps.filter((one) => seen.get(`${one.number} ${one.point}`) === one);
}

// The id of an operation, ORDER, or null: left. `asked` words the question, and does what was
// chosen: { label, what, which, done, act }.
export async function operation(operations, asked, chosen = false) {
  const said = await ask({
    label: asked.label(),
    what: operations.length ? asked.what() : t("hands.choose.none"),
    choices: [
      ...(chosen ? [[ORDER, t("hands.choose.order")]] : []),
      ...operations.map(({ id, title, steps: open }) => [id, open.length > 1 ? t("hands.choose.places", { title, count: open.length }) : title]),
    ],
    act: async ({ chosen: id }) => {
      if (id === ORDER) await choose(null);
      return { chosen: id };
    },
  });
  return said?.chosen ?? null;
}

// The step that was chosen, BACK, or nothing: left.
export async function place({ title, steps: open }, asked) {
  const options = open.map((one) => [one.id, where(one) || title]);
  const said = await ask({
    label: title,
    what: asked.which(),
    fields: [{ name: "step", label: t("hands.choose.place"), kind: "tiles", wide: options.length <= FEW, value: options[0][0], options }],
    done: asked.done(),
    back: true,
    act: async ({ step }) => { await asked.act(open.find((one) => one.id === step)); },
  });
  if (said === BACK) return BACK;
  return said ? open.find((one) => one.id === said.step) : undefined;
}

function choose(step) {
  return service.post(`/v1/builds/${now().build.id}/choose`, { step });
}
