// Talking to the service. A POST that fails on the way is sent again under the same key, so that
// it is recorded once at most.

export class Refused extends Error {}

export async function post(path, body) {
  const options = {
    method: "POST",
    headers: { "Content-Type": "application/json", "Idempotency-Key": crypto.randomUUID() },
    body: JSON.stringify(body),
  };
  let response;
  try {
    response = await fetch(path, options);
  } catch {
    response = await fetch(path, options);
  }
  return answered(response);
}

async function answered(response) {
  if (!response.ok) {
    const problem = await response.json().catch(() => ({ title: response.statusText }));
    throw new Refused([problem.detail ?? problem.title, problem.mend].filter(Boolean).join(" "));
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
    for (const name of ["reading", "entry", "device", "condition", "ping"]) {
      source.addEventListener(name, (event) => {
        alive();
        if (event.lastEventId) last = Number(event.lastEventId);
        heard(name, JSON.parse(event.data), event.lastEventId ? last : null);
      });
    }
  }

  open();
}
