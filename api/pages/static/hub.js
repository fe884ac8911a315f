// What several pages of one browser share: one line to the service. A browser opens six connections
// to a host, so the seventh page with a line of its own would wait for ever.
//
// A page joins with the id of the last event that it has. The hub keeps the newest events; where a
// page wants older ones, the line is opened anew from there. So a page may be sent an event twice,
// and drops by its id what it had (stream.js): none is missed, none is taken twice.
//
// Ports are { postMessage, onmessage }. From a page: { join: last id }, { here: true } in answer to
// each ping, { leave: true }. To a page: { event }, { line: live or not }, { strange: true }.

const KEPT = 1000;
// A page that was closed without a word, or that the browser has put to sleep, answers no ping.
const MISSED = 6;

export class Hub {
  #make;
  #kept;
  #feed = null;
  #ports = new Map();
  #ring = [];
  // Every event after this id is in the ring.
  #floor = 0;
  // Whether the service is heard; null while that is not known yet.
  #live = null;
  // What is so now, of what has no id: each instrument's news, each pedal's, whether it is stored.
  #present = new Map();

  // make(after, told): a Feed.
  constructor(make, kept = KEPT) {
    this.#make = make;
    this.#kept = kept;
  }

  connect(port) {
    port.onmessage = ({ data }) => {
      if (data.leave) this.#leave(port);
      else if (data.here) this.#ports.has(port) && this.#ports.set(port, 0);
      else this.#join(port, data.join);
    };
  }

  get pages() {
    return this.#ports.size;
  }

  #join(port, after) {
    this.#ports.set(port, 0);
    if (!this.#feed || after < this.#floor) {
      this.#from(after);
      return;
    }
    for (const event of this.#ring) if (event.id > after) port.postMessage({ event });
    for (const event of this.#present.values()) port.postMessage({ event });
    if (this.#live !== null) port.postMessage({ line: this.#live });
  }

  #leave(port) {
    this.#ports.delete(port);
    if (this.#ports.size === 0) this.#stop();
  }

  #stop() {
    this.#feed?.close();
    this.#feed = null;
    this.#ring = [];
    this.#present.clear();
    this.#live = null;
  }

  #from(after) {
    this.#stop();
    this.#floor = after;
    this.#feed = this.#make(after, {
      heard: (event) => this.#heard(event),
      opened: () => this.#line(true),
      lost: () => this.#line(false),
      strange: () => this.#strange(),
    });
  }

  #heard(event) {
    if (event.id !== null) this.#keep(event);
    else if (event.name !== "ping" && event.name !== "torque") this.#present.set(of(event), event);
    this.#all({ event });
    if (event.name === "ping") this.#count();
  }

  #keep(event) {
    this.#ring.push(event);
    if (this.#ring.length > this.#kept) this.#floor = this.#ring.shift().id;
  }

  #count() {
    for (const [port, missed] of this.#ports) {
      if (missed >= MISSED) this.#leave(port);
      else this.#ports.set(port, missed + 1);
    }
  }

  #line(live) {
    this.#live = live;
    this.#all({ line: live });
  }

  #strange() {
    this.#stop();
    this.#all({ strange: true });
  }

  #all(message) {
    for (const port of this.#ports.keys()) port.postMessage(message);
  }
}

// What one such event is about: the next about the same takes its place.
function of({ name, data }) {
  const { instrument, pedal, reader } = JSON.parse(data);
  return [name, instrument ?? pedal ?? reader ?? ""].join(" ");
}
