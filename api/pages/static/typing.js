// Tells a machine that types from a person, by the time between keys. Every key is held until that
// is known, and then given to `machine` (one whole message) or to `person` (keys to be done as they
// came). Knows no page: keys are { key, code, at }, `at` in ms as the browser stamps its events.

// A gauge or its cable types a key every 1 to 30 ms: USB asks a keyboard every 1 to 10 ms, and each
// key is a press and a release. A person's keys are 60 ms apart at the very least, mostly 100 to
// 200 ms (common practice, no source). `gap`: keys further apart are a person's. `slack`: how much
// longer is waited, as a busy browser hands keys on late. A browser may keep other numbers under
// "pace" (kept.js), for a gauge on a slow link. `least`: keys of a message with its
// Enter. `torn`: what comes so soon after other keys belongs to them, and is only half a message.
// `certain`: keys at speed, with Enter, that no hand types even so.
export const PACE = { gap: 50, slack: 30, least: 3, torn: 300, certain: 5 };

const BROWSER = {
  now: () => performance.now(),
  after: (ms, act) => setTimeout(act, ms),
  stop: (id) => clearTimeout(id),
};

export class Typing {
  #run = [];
  #timer = null;
  #due = 0;
  // The keys a person typed last, and when: what comes close behind may be torn off them.
  #tail = "";
  #before = -Infinity;
  // When a message ended.
  #ended = -Infinity;

  // machine({ text, keys, torn }), person(keys, { ended, fast }), slow(text): whether a number that
  // came too slowly, and its Enter, shall be kept from the page.
  constructor({ machine, person, slow, pace = PACE, clock = BROWSER }) {
    Object.assign(this, { machine, person, slow, pace, clock });
  }

  // Whether keys are held.
  get holds() {
    return this.#run.length > 0;
  }

  // A key that writes a character.
  press(key) {
    this.#part(key.at);
    this.#run.push(key);
    this.#wait(this.pace.gap + this.pace.slack);
  }

  // A key that ends messages. False: nothing is held, and it shall do what it always does.
  end(key) {
    this.#part(key.at);
    return this.#run.length ? this.#message(key) : this.#alone(key);
  }

  // Another key comes: what is held goes before it.
  flush() {
    if (this.#run.length) this.#release();
  }

  #message(key) {
    const keys = this.#taken();
    const torn = keys[0].at - this.#before <= this.pace.torn;
    const enough = torn ? this.pace.certain : this.pace.least;
    const text = (torn ? this.#tail : "") + written(keys);
    this.#forget();
    if (keys.length + 1 < enough) {
      this.person([...keys, key], { ended: true, fast: true });
    } else {
      this.#ended = key.at;
      this.machine({ text, keys: [...keys, key], torn });
    }
    return true;
  }

  #alone(key) {
    // Some gauges end with two such keys: the second must not touch the page either.
    if (key.at - this.#ended <= this.pace.torn) {
      this.#ended = key.at;
      return true;
    }
    const behind = key.at - this.#before <= this.pace.torn;
    const text = this.#tail;
    this.#forget();
    return behind && this.slow(text);
  }

  // What is held and older than the gap is a person's.
  #part(at) {
    if (this.#run.length && at - this.#run.at(-1).at > this.pace.gap) this.#release();
  }

  #release() {
    const keys = this.#taken();
    const follows = keys[0].at - this.#before <= this.pace.torn;
    this.#tail = (follows ? this.#tail : "") + written(keys);
    this.#before = keys.at(-1).at;
    this.person(keys, { ended: false, fast: keys.length >= this.pace.least });
  }

  #taken() {
    this.clock.stop(this.#timer);
    const keys = this.#run;
    this.#run = [];
    return keys;
  }

  #forget() {
    this.#tail = "";
    this.#before = -Infinity;
  }

  #wait(ms) {
    this.clock.stop(this.#timer);
    this.#due = this.clock.now() + ms;
    this.#timer = this.clock.after(ms, () => this.#rang());
  }

  // A browser that was busy rings late, and keys that came meanwhile are still on their way.
  #rang() {
    if (this.clock.now() - this.#due > this.pace.slack) this.#wait(this.pace.slack);
    else this.#release();
  }
}

function written(keys) {
  return keys.map((one) => one.key).join("");
}
