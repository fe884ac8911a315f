// What is said loudly, by tone and voice, for as long as it lasts: at once, and then now and then.

import * as speech from "./speech.js";
import * as tone from "./tone.js";

const EVERY = 15000;

const lasting = new Map();
let timer = 0;

// `kind` is so now: { tone, text, grace }, or null when it is over. `grace` (ms): how long it has to
// last before it is heard at all. Gives whether one that was heard is over.
export function lasts(kind, what) {
  const before = lasting.get(kind);
  if (!what) return over(kind, before);
  if (before) Object.assign(before, what);
  else begin(kind, what);
  return false;
}

// It has happened once more: heard now.
export function anew(kind) {
  if (!lasting.has(kind)) return;
  sound();
  wait();
}

// There is a voice from now on: what has been so for a while is heard now.
export function now() {
  if (lasting.size === 0) return;
  sound();
  wait();
}

function begin(kind, what) {
  const item = { ...what, begun: false };
  lasting.set(kind, item);
  item.timer = setTimeout(() => {
    item.begun = true;
    sound();
    wait();
  }, what.grace ?? 0);
}

function over(kind, before) {
  if (!before) return false;
  clearTimeout(before.timer);
  lasting.delete(kind);
  if (lasting.size === 0) clearInterval(timer);
  return before.begun;
}

function wait() {
  clearInterval(timer);
  timer = setInterval(sound, EVERY);
}

function sound() {
  const heard = [...lasting.values()].filter((one) => one.begun);
  if (heard.length === 0) return;
  tone.play(heard[0].tone);
  speech.say("alarm", heard.map((one) => one.text));
}
