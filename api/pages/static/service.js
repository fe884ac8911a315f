// Talking to the service. A POST that fails on the way is sent again under the same key, so that
// it is recorded once at most.

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
  return error instanceof TypeError ? "The service did not answer." : error.message;
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

// Whether what answers now is not what this page was made from: another store behind the same
// address, or one that wants its token.
async function strange(last) {
  try {
    const response = await fetch("/v1/health", { cache: "no-store" });
    return response.status === 401 || (response.ok && (await response.json()).size < last);
  } catch {
    return false;
  }
}

// Listens from just after `after`. Calls heard(name, data), opened() and lost().
// A browser gives up on a stream that answers with an error page, and cannot see a line that died
// in silence: so after a close, or three pings missed, the stream is made anew from the last id.
export function listen(after, { heard, opened, lost }, quiet = 32000) {
  let last = after;
  let source = null;
  let watch = 0;

  function alive() {
    clearTimeout(watch);
    watch = setTimeout(again, quiet);
  }

  function again() {
    source?.close();
    lost();
    clearTimeout(watch);
    watch = setTimeout(async () => (await strange(last) ? location.reload() : open()), 1000);
  }

  function open() {
    source = new EventSource(`/v1/events?after=${last}`);
    alive();
    source.onopen = () => { alive(); opened(); };
    source.onerror = () => (source.readyState === EventSource.CLOSED ? again() : lost());
    for (const name of ["reading", "entry", "device", "condition", "pedal", "ping"]) {
      source.addEventListener(name, (event) => {
        alive();
        if (event.lastEventId) last = Number(event.lastEventId);
        heard(name, JSON.parse(event.data), event.lastEventId ? last : null);
      });
    }
  }

  open();
}
