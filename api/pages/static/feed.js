// The line to the service's events. Runs in a page or in the worker that several pages share.
//
// A browser gives up on a stream that answers with an error page, and cannot see a line that died in
// silence: so after a close, or three pings missed, the stream is made anew from the last id.

export const NAMES = ["reading", "entry", "device", "condition", "pedal", "badge", "torque", "ping"];

// The service sends a ping at least every ten seconds (ms).
export const QUIET = 32000;
const PAUSE = 1000;

// Whether what answers now is not what this page was made from: another store behind the same
// address, or one that wants its token.
async function elsewhere(last) {
  try {
    const response = await fetch("/v1/health", { cache: "no-store" });
    return response.status === 401 || (response.ok && (await response.json()).size < last);
  } catch {
    return false;
  }
}

export class Feed {
  #source = null;
  #watch = 0;
  #closed = false;
  #told;
  #quiet;
  #pause;

  // Listens from just after `after`: heard({ name, data, id }) with the data as text and id null of
  // what is no history, opened(), lost(), strange() where it can only begin anew.
  constructor(after, told, { quiet = QUIET, pause = PAUSE } = {}) {
    this.last = after;
    this.#told = told;
    this.#quiet = quiet;
    this.#pause = pause;
    this.#open();
  }

  close() {
    this.#closed = true;
    this.#drop();
  }

  #drop() {
    clearTimeout(this.#watch);
    this.#source?.close();
    this.#source = null;
  }

  #open() {
    const source = new EventSource(`/v1/events?after=${this.last}`);
    this.#source = source;
    this.#alive();
    source.onopen = () => { this.#alive(); this.#told.opened(); };
    source.onerror = () => (source.readyState === EventSource.CLOSED ? this.#again() : this.#told.lost());
    for (const name of NAMES) source.addEventListener(name, (event) => this.#heard(name, event));
  }

  #heard(name, { data, lastEventId }) {
    this.#alive();
    const id = lastEventId ? Number(lastEventId) : null;
    // A browser gives an event without an id the id of the one before.
    const news = id !== null && id > this.last;
    if (news) this.last = id;
    this.#told.heard({ name, data, id: news ? id : null });
  }

  #alive() {
    clearTimeout(this.#watch);
    this.#watch = setTimeout(() => this.#again(), this.#quiet);
  }

  #again() {
    this.#drop();
    this.#told.lost();
    this.#watch = setTimeout(async () => {
      const strange = await elsewhere(this.last);
      if (this.#closed) return;
      if (strange) this.#told.strange();
      else this.#open();
    }, this.#pause);
  }
}
