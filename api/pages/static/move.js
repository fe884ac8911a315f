// The last press was taken elsewhere than the step asked for: it is placed where it was taken.

import { BACK, flow } from "./dialog.js";
import { openOperations, operation, place } from "./choose.js";
import { element } from "./dom.js";
import { t } from "./labels.js";
import { say } from "./message.js";
import { now } from "./now.js";
import { where } from "./place.js";
import * as service from "./service.js";
import * as words from "./words.js";

// Kinds of step whose reading may have been taken at another place.
const KINDS = ["measure", "tighten", "turn"];

export function draw({ build, last }) {
  element("move").hidden = !build || build.closed || !movable(build, last);
}

function movable(build, last) {
  const { step, kind, build: placed } = last?.placement ?? {};
  return Boolean(step) && placed === build.id && KINDS.includes(kind);
}

export function open() {
  const { build, last } = now();
  if (!movable(build, last)) return undefined;
  const asked = {
    label: () => t("bench.move.label"),
    what: () => t("bench.move.what", { size: words.size(last) }),
    which: () => t("bench.move.which", { size: words.size(last) }),
    done: () => t("bench.move.do"),
    act: (step) => service.post(`/v1/readings/${last.seq}/placements`, {
      build: build.id, step: step.id, reason: t("bench.move.reason", { where: where(step) || step.id }),
    }),
  };
  return flow(async () => {
    const operations = sorted(await openOperations(build), last.placement);
    for (;;) {
      const name = await operation(operations, asked);
      const found = operations.find((one) => one.id === name);
      if (!found) return;
      const step = await place(found, asked);
      if (step === BACK) continue;
      if (step) say(t("bench.move.moved", { size: words.size(last), title: found.title, where: where(step) }));
      return;
    }
  });
}

// Mostly it was another number of the same: that operation comes first, without the step it is on.
function sorted(operations, { operation: here, step }) {
  return operations
    .map((one) => ({ ...one, steps: one.steps.filter((each) => each.id !== step) }))
    .filter((one) => one.steps.length > 0)
    .sort((a, b) => Number(b.id === here) - Number(a.id === here));
}
