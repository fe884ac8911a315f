// A reading entered by hand for the step that was seen: the service would place it on the one that is
// wanted by now.

import { t } from "./labels.js";
import { now } from "./now.js";
import * as service from "./service.js";

export async function sendFor(step, body) {
  const { next } = now();
  const wanted = next?.step;
  if (wanted?.id !== step.id || wanted.pass !== step.pass) {
    const title = wanted?.title ?? (next?.done ? t("bench.next.done") : t("bench.next.held"));
    throw new Error(t("bench.ask.moved_on", { title }));
  }
  return service.post("/v1/readings", body);
}
