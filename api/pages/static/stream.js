// What happens at the bench, as it comes: over the line that all pages of this browser share, or over
// one of its own where the browser has no such workers.

import { Feed, QUIET } from "./feed.js";

// Raise the number when the messages of hub.js change: a worker lives on while any page is open, also
// over a newer version of this program. Each ledger has a worker of its own: another may come to
// stand behind the same address, and its events have the same numbers.
const NAME = "witnessmark events 1";
const PATIENCE = QUIET + 5000;

// Listens from just after `after`: heard(name, data, id), each event with an id once and in order;
// opened(), lost(). `bench`: whose ledger it is.
export function listen(after, bench, told) {
  return new Listener(after, bench, told);
}

class Listener {
  #last;
  #name;
  #told;
  #port = null;
  #feed = null;
  #watch = 0;
  #silent = 0;

  constructor(after, bench, told) {
    this.#last = after;
    this.#name = `${NAME} ${bench}`;
    this.#told = told;
    addEventListener("pagehide", () => this.#leave());
    addEventListener("pageshow", ({ persisted }) => persisted && this.#begin());
    this.#begin();
  }

  #begin() {
    if (typeof SharedWorker === "undefined") this.#alone();
    else this.#join();
  }

  #join() {
    const worker = new SharedWorker("/static/streamworker.js", { type: "module", name: this.#name });
    const { port } = worker;
    this.#port = port;
    worker.onerror = () => port === this.#port && this.#alone();
    port.onmessage = ({ data }) => port === this.#port && this.#said(data);
    port.postMessage({ join: this.#last });
    this.#wait();
  }

  #alone() {
    this.#leave();
    this.#feed = new Feed(this.#last, {
      heard: (event) => this.#heard(event),
      opened: () => this.#told.opened(),
      lost: () => this.#told.lost(),
      strange: () => location.reload(),
    });
  }

  #leave() {
    clearTimeout(this.#watch);
    this.#port?.postMessage({ leave: true });
    this.#port = null;
    this.#feed?.close();
    this.#feed = null;
  }

  #said({ event, line, strange }) {
    this.#silent = 0;
    this.#wait();
    if (strange) location.reload();
    else if (line !== undefined) line ? this.#told.opened() : this.#told.lost();
    else this.#heard(event);
  }

  // A worker that has ended says nothing any more, and neither does one that has forgotten this page.
  #wait() {
    clearTimeout(this.#watch);
    this.#watch = setTimeout(() => {
      this.#told.lost();
      this.#silent += 1;
      if (this.#silent > 1) this.#alone();
      else this.#join();
    }, PATIENCE);
  }

  #heard({ name, data, id }) {
    if (name === "ping") this.#port?.postMessage({ here: true });
    if (id !== null) {
      if (id <= this.#last) return;
      this.#last = id;
    }
    this.#told.heard(name, JSON.parse(data), id);
  }
}
