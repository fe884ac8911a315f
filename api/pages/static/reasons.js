// Why a reading answers no step, in plain words; the sentence with its numbers comes from the
// service.

import { named } from "./labels.js";

export function reason(code) {
  return named("common.reason", code);
}
