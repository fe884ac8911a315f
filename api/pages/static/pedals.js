// Pedals: keys of this browser that stand for SEND, for confirming, and for voiding the last reading.

import { hidden } from "./blind.js";
import { confirm } from "./confirm.js";
import { element } from "./dom.js";
import { read, write } from "./kept.js";
import { say } from "./message.js";
import { now } from "./now.js";
import * as service from "./service.js";
import * as words from "./words.js";

// A worn contact closes twice: what comes so soon is the same press (ms).
const BOUNCE = 300;
// Keys that the page or a gauge needs for itself.
const NEEDED = ["Enter", "NumpadEnter", "Tab", "Escape", "Space", "Backspace", "Delete"];
const GAUGES = /^[0-9+\-.,]$/u;

const pressed = new Map();
let busy = false;
let before = null;

// Readings stored before this page was opened are not meant by a foot on a pedal.
export function open(size) {
  before = size;
}

export function all() {
  return read("pedals", []);
}

// The name of a key with what is held beside it: "F13", "Control+KeyB".
export function chord(event) {
  const held = [["Control", event.ctrlKey], ["Alt", event.altKey], ["Meta", event.metaKey], ["Shift", event.shiftKey]];
  return [...held.filter(([, down]) => down).map(([name]) => name), event.code || event.key].join("+");
}

export function of(name) {
  return all().find((one) => one.chord === name) ?? null;
}

// Why this key cannot be a pedal; null where it can.
export function refusal(event) {
  if (NEEDED.includes(event.code) || event.key.startsWith("Arrow")) return "The page itself needs this key. Give the pedal another one.";
  if (GAUGES.test(event.key)) return "A gauge that types may type this key. Give the pedal another one.";
  return null;
}

export function add({ chord: name, shown, does, instrument = null }) {
  write("pedals", [...all().filter((one) => one.chord !== name), { chord: name, shown, does, instrument }]);
}

export function remove(name) {
  write("pedals", all().filter((one) => one.chord !== name));
}

export function said({ shown, does, instrument }) {
  return `${shown}: ${words.pedal(does, instrument)}`;
}

// One press, as it came: what is held down, and what bounces, is one press.
export function press(pedal, { at, repeat }) {
  const last = pressed.get(pedal.chord) ?? -Infinity;
  if (repeat || at - last < BOUNCE) return;
  pressed.set(pedal.chord, at);
  act(pedal);
}

async function act(pedal) {
  if (busy) {
    say(`Pedal ${pedal.shown}: NOT DONE. The press before is still on its way.`, false);
    return;
  }
  busy = true;
  try {
    if (element("ask").open) throw new Error("A question is open on this page: answer it or leave it first.");
    say(`Pedal ${pedal.shown}: ${await ACTS[pedal.does](pedal)}`);
  } catch (error) {
    say(`Pedal ${pedal.shown}: NOT DONE. ${service.plainly(error)}`, false);
  } finally {
    busy = false;
  }
}

const ACTS = {
  async send({ instrument }) {
    await service.post(`/v1/instruments/${instrument}/ask`, {});
    return `${instrument} was asked and has answered.`;
  },

  async confirm() {
    const step = now().next?.step;
    if (step?.kind !== "confirm") throw new Error("The next step is none to be confirmed.");
    await confirm();
    return `confirmed: ${step.title}.`;
  },

  async void() {
    const { condition, last: reading } = now();
    if (condition.state !== "storing") throw new Error("Readings are not being stored now: which is the last is not known.");
    if (!reading || reading.seq <= before) throw new Error("No reading has come since this page was opened. Void an older one with its button.");
    if (reading.placement.reason?.code === "void") throw new Error("The last reading is void already.");
    await service.post(`/v1/readings/${reading.seq}/voids`, { reason: "foot pedal" });
    const size = hidden(reading, now().next?.step) ? "the reading" : words.size(reading);
    return `void: ${size} from ${reading.instrument}.`;
  },
};
