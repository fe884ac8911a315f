// "Worth a look": what a whole build shows that one reading cannot. It holds nothing.

import { element, list, make, redraw, write } from "./dom.js";
import { t } from "./labels.js";
import { now } from "./now.js";
import * as service from "./service.js";

let shown = null;
let completed = null;

export async function look() {
  const { build } = now();
  if (!build) return;
  try {
    const found = await service.get(`/v1/builds/${build.id}/findings`);
    shown = { build: build.id, done: build.steps_done, total: build.steps_total, ...found };
  } catch (error) {
    shown = { build: build.id, problem: error.message, findings: [], not_shown: [] };
  }
  draw(now());
}

// Looks by itself when an operation has been completed.
export function worth(state) {
  const { build } = state;
  const count = build ? build.operations.filter((one) => one.complete).length : 0;
  const before = completed;
  completed = build && { build: build.id, count };
  if (build && before?.build === build.id && count > before.count) look();
  draw(state);
}

function draw(state) {
  const { build } = state;
  element("worth").hidden = !build;
  const found = shown?.build === build?.id ? shown : null;
  list("findings", (found?.findings ?? []).map((one) => one.detail));
  write("looked", looked(found));
  element("unseen").hidden = !found?.not_shown.length;
  const unseen = found?.not_shown ?? [];
  redraw(element("unseen-list"), unseen, () => unseen.map((one) => make("li", `${one.mistake}. ${one.why} ${one.practice}`)));
}

function looked(found) {
  if (!found) return t("bench.look.not_yet");
  if (found.problem) return found.problem;
  const { done, total } = found;
  return found.findings.length === 0
    ? t("bench.look.nothing", { done, total })
    : t("bench.look.something", { done, total });
}
