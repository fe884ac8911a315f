// What a key, a pedal or a touch does is what the person saw, never what slid under it meanwhile.

// From seeing that something has changed to having read it and held the hand back (ms). A choice
// between a few things seen takes 0.3 to 0.7 s (common practice, no source).
export const TO_SEE = 600;
// A letter means nothing else for so long after what it stood for is gone (ms).
const REST = 3000;

// One place of the page at which now this and now that can be done.
export class Place {
  #held = null;
  #since = -Infinity;
  // When it was last the turn of what stood here before.
  #left = -Infinity;

  // This stands here now, by its name; null: nothing does.
  holds(name, at = performance.now()) {
    if (name === this.#held) return;
    if (this.#held !== null) this.#left = at;
    this.#held = name;
    this.#since = at;
  }

  // Whether what stands here has only just come, where a moment ago something else stood.
  justCame(at = performance.now()) {
    return this.#held !== null && at - this.#since < TO_SEE && this.#since - this.#left < TO_SEE;
  }
}

// Letters for what waits: each keeps its own for as long as it waits, whatever comes and goes.
export class Letters {
  #free;
  #had = new Map();
  #gone = new Map();

  constructor(letters) {
    this.#free = letters;
  }

  // The letter of each of these names; none where all are taken.
  of(names, at = performance.now()) {
    for (const [name, letter] of this.#had) {
      if (names.includes(name)) continue;
      this.#had.delete(name);
      this.#gone.set(letter, at);
    }
    for (const name of names) if (!this.#had.has(name)) this.#give(name, at);
    return names.map((name) => this.#had.get(name));
  }

  #give(name, at) {
    const taken = [...this.#had.values()];
    const letter = this.#free.find((one) => !taken.includes(one) && at - (this.#gone.get(one) ?? -Infinity) >= REST);
    if (letter) this.#had.set(name, letter);
  }
}
