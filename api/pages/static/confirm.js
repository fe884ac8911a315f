// Confirming the step that asks for it.

import { now } from "./now.js";
import * as service from "./service.js";

// Raises what the service says against it.
export function confirm() {
  const { build, next: wanted } = now();
  return service.post(`/v1/builds/${build.id}/confirmations`, { step: wanted.step.id });
}
