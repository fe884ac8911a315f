// Asking the service. A POST that fails on the way is sent again under the same key, so that
// it is recorded once at most.

import { t } from "./labels.js";

export class Refused extends Error {
  constructor(message, status) {
    super(message);
    this.status = status;
  }
}

// A key that no other request has. Not crypto.randomUUID: a page that came over plain HTTP from
// another machine does not have it.
export function freshKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

// `key`: of a request that may have been sent before. `patience`: ms until it is given up.
export async function post(path, body, { key = freshKey(), patience = null } = {}) {
  const send = () => fetch(path, {
    method: "POST",
    headers: { "Content-Type": "application/json", "Idempotency-Key": key },
    body: JSON.stringify(body),
    signal: patience === null ? undefined : AbortSignal.timeout(patience),
  });
  let response;
  try {
    response = await send();
  } catch {
    response = await send();
  }
  return answered(response);
}

// What went wrong, for a person.
export function plainly(error) {
  return error instanceof TypeError ? t("hands.no_answer") : error.message;
}

async function answered(response) {
  if (!response.ok) {
    const problem = await response.json().catch(() => ({ title: response.statusText }));
    throw new Refused([problem.detail ?? problem.title, problem.mend].filter(Boolean).join(" "), response.status);
  }
  return response.json();
}

export async function get(path) {
  const response = await fetch(path, { cache: "no-store" });
  return answered(response);
}

export function state() {
  return get("/v1/bench");
}
