// Tells a machine that types from a person, by the time between keys. Every key is held until that
// is known, and then given to `machine` (one whole message) or to `person` (keys to be done as they
// came). Knows no page: keys are { key, code, at, alone }, `at` in ms as the browser stamps its
// events, `alone` for those that are written in no field: there a letter is a key of the page by itself,
// and is one only where no other follows it so soon.

// A gauge or its cable types a key every 1 to 30 ms: USB asks a keyboard every 1 to 10 ms, and each
// key is a press and a release. A person's keys are 60 ms apart at the very least, mostly 100 to
// 200 ms (common practice, no source). `gap`: keys further apart are a person's. `slack`: how much
// longer is waited, as a busy browser hands keys on late. A browser may keep other numbers under
// "pace" (kept.js), for a gauge on a slow link. `least`: keys of a message with its
// Enter. `torn`: what comes so soon after other keys belongs to them, and is only half a message.
// `certain`: keys at speed, with Enter, that no hand types even so.
// `alone`: in no field, keys that are not further apart are one text, and none of them is a key of the
// page. Badge scanners on a slow link were seen to leave 45 to 70 ms; what acts within 0.2 s is felt as
// at once.
export const PACE = { gap: 50, slack: 30, least: 3, torn: 300, certain: 5, alone: 150 };

const BROWSER = {
  now: () => performance.now(),
  after: (ms, act) => setTimeout(act, ms),
  stop: (id) => clearTimeout(id),
};

export class Typing {
  #run = [];
  #timer = null;
  #due = 0;
  // The keys that were let go last, and when: what comes close behind may be torn off them, and surely
  // is where they came at a machine's speed.
  #tail = "";
  #before = -Infinity;
  #quick = false;
  // When a message ended.
  #ended = -Infinity;

  // machine({ text, keys, torn }), person(keys, { ended, fast, text }) with the whole text where it
  // ended, slow(text): whether the Enter close behind what came too slowly shall be kept from the page. One
  // behind what came at a machine's speed always is.
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
    this.#wait(this.#gap(key) + this.pace.slack);
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
    const enough = torn ? (this.#quick ? 2 : this.pace.certain) : this.pace.least;
    const text = (torn ? this.#tail : "") + written(keys);
    const all = [...keys, key];
    const fast = this.#fast(all);
    const machine = fast && all.length >= enough;
    this.#forget();
    if (machine || keys[0].alone) this.#ended = key.at;
    if (machine) this.machine({ text, keys: all, torn });
    else this.person(all, { ended: true, fast, text });
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
    const quick = this.#quick;
    this.#forget();
    const kept = behind && (this.slow(text) || quick);
    if (kept) this.#ended = key.at;
    return kept;
  }

  #gap({ alone }) {
    return alone ? Math.max(this.pace.alone, this.pace.gap) : this.pace.gap;
  }

  // Whether no two of them are further apart than a machine's.
  #fast(keys) {
    return keys.every((one, at) => at === 0 || one.at - keys[at - 1].at <= this.pace.gap);
  }

  // What is held and older than the gap is a person's.
  #part(at) {
    const newest = this.#run.at(-1);
    if (newest && at - newest.at > this.#gap(newest)) this.#release();
  }

  #release() {
    const keys = this.#taken();
    const follows = keys[0].at - this.#before <= this.pace.torn;
    this.#tail = (follows ? this.#tail : "") + written(keys);
    this.#before = keys.at(-1).at;
    const fast = this.#fast(keys);
    // With the Enter that is to come they are as many as no hand types.
    this.#quick = (fast && keys.length + 1 >= this.pace.certain) || (follows && this.#quick);
    this.person(keys, { ended: false, fast: fast && keys.length >= this.pace.least });
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
    this.#quick = false;
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
