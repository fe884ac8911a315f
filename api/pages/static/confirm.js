// Confirming the step that asks for it.

import { t } from "./labels.js";
import { now } from "./now.js";
import * as service from "./service.js";
import { Place } from "./unmoved.js";

const asks = new Place();

// This step is drawn now.
export function drawn(build, step) {
  asks.holds(step?.kind === "confirm" ? JSON.stringify([build?.id, step.id, step.pass]) : null);
}

// Whether another step was to be confirmed a moment ago: that one may be meant.
export const tooSoon = () => asks.justCame();

// Raises what the service says against it.
export async function confirm() {
  const { build, next: wanted } = now();
  if (tooSoon()) throw new Error(t("hands.key.just_came"));
  return service.post(`/v1/builds/${build.id}/confirmations`, { step: wanted.step.id });
}
