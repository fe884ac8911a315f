// When the voice says what: the verdict of a reading, the next step when it has changed, and the
// cautions of a step once. One that was cut short is said again.

import { outcome } from "./last.js";
import { suggested } from "./mend.js";
import { now } from "./now.js";
import * as sentences from "./sentences.js";
import * as speech from "./speech.js";

const heard = new Set();
const underway = new Set();
let before = null;

// A reading has been stored. `known`: the state knew it already, so that the next step is said anew
// behind its verdict.
export function reading(data, known) {
  const mend = data.placement.reason ? suggested(data, now().next?.step ?? null) : null;
  speech.say("verdict", sentences.verdict(data, outcome(data), mend?.text));
  if (known) begin();
}

// This is so now.
export function state(fresh) {
  const text = sentences.next(fresh);
  const at = JSON.stringify([fresh.build?.id, fresh.next?.step?.id, fresh.next?.step?.pass, text]);
  const changed = at !== before;
  before = at;
  if (changed) {
    const due = cautions(fresh, heard);
    speech.say("next", [{ text }, ...due.map(caution)]);
  } else if (speech.enabled()) {
    const due = cautions(fresh, heard).filter((one) => !underway.has(one.key));
    if (due.length) speech.say("next", due.map(caution));
  }
}

// What is to be done next is said now, as when the voice has just been switched on.
export function begin() {
  before = null;
  state(now());
}

function cautions({ build, next: wanted }, known) {
  const step = wanted?.step;
  return (step?.cautions ?? [])
    .map((text) => ({ text, key: JSON.stringify([build?.id, step.operation, text]) }))
    .filter(({ key }) => !known.has(key));
}

function caution({ text, key }) {
  if (speech.enabled()) underway.add(key);
  return {
    text,
    topic: "caution",
    heard() {
      underway.delete(key);
      heard.add(key);
    },
    gone: () => underway.delete(key),
  };
}
