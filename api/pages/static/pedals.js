// Pedals: keys of this browser that stand for SEND, for confirming, for voiding the last reading, for
// what is suggested for one that waits, for beginning the shift, and for hearing the last again.

import { hidden } from "./blind.js";
import { confirm } from "./confirm.js";
import { element } from "./dom.js";
import { read, write } from "./kept.js";
import { t } from "./labels.js";
import { say } from "./message.js";
import { line, now } from "./now.js";
import * as pulling from "./pulling.js";
import * as service from "./service.js";
import * as speech from "./speech.js";
import { Place } from "./unmoved.js";
import { mendFirst } from "./waiting.js";
import * as words from "./words.js";

// A worn contact closes twice: what comes so soon is the same press (ms).
const BOUNCE = 300;
// Keys that the page or a gauge needs for itself.
const NEEDED = ["Enter", "NumpadEnter", "Tab", "Escape", "Space", "Backspace", "Delete"];
const GAUGES = /^[0-9+\-.,]$/u;

const pressed = new Map();
const newest = new Place();
let busy = false;
let before = null;

// Readings stored before this page was opened are not meant by a foot on a pedal.
export function open(size) {
  before = size;
}

// This is the last reading now.
export function last(reading) {
  newest.holds(reading ? String(reading.seq) : null);
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
  if (NEEDED.includes(event.code) || event.key.startsWith("Arrow")) return t("hands.pedal.needed");
  if (GAUGES.test(event.key)) return t("hands.pedal.gauges");
  return null;
}

export function add({ chord: name, shown, does, instrument = null }) {
  write("pedals", [...all().filter((one) => one.chord !== name), { chord: name, shown, does, instrument }]);
}

export function remove(name) {
  write("pedals", all().filter((one) => one.chord !== name));
}

export function said({ shown, does, instrument }) {
  return t("hands.pedal.does", { key: shown, does: words.pedal(does, instrument) });
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
    say(t("hands.pedal.not_done", { pedal: pedal.shown, why: t("hands.pedal.busy") }), false);
    return;
  }
  busy = true;
  try {
    if (element("ask").open) throw new Error(t("hands.pedal.question"));
    const detail = await ACTS[pedal.does](pedal);
    if (detail) say(t("hands.pedal.done", { pedal: pedal.shown, detail }));
  } catch (error) {
    say(t("hands.pedal.not_done", { pedal: pedal.shown, why: service.plainly(error) }), false);
  } finally {
    busy = false;
  }
}

// What came of it, in words; nothing where it says so itself.
const ACTS = {
  async send({ instrument }) {
    await service.post(`/v1/instruments/${instrument}/ask`, {});
    return t("hands.pedal.asked", { instrument });
  },

  async confirm() {
    const step = now().next?.step;
    if (step?.kind !== "confirm") throw new Error(t("hands.pedal.no_confirmation"));
    await confirm();
    return t("hands.pedal.confirmed", { title: step.title });
  },

  async void() {
    const { condition, last: reading } = now();
    if (condition.state !== "storing") throw new Error(t("hands.pedal.not_storing"));
    if (!line()) throw new Error(t("hands.pedal.unheard"));
    if (!reading || reading.seq <= before) throw new Error(t("hands.pedal.none_since"));
    // What a pull is part of is not stored yet: the reading before it is not the one meant.
    const pull = pulling.underWay();
    if (pull) throw new Error(t("hands.pedal.pulling", { instrument: pull }));
    if (newest.justCame()) throw new Error(t("hands.key.just_came"));
    if (reading.placement.reason?.code === "void") throw new Error(t("hands.pedal.void_already"));
    await service.post(`/v1/readings/${reading.seq}/voids`, { reason: t("hands.pedal.reason") });
    const size = hidden(reading, now().next?.step) ? t("hands.pedal.the_reading") : words.size(reading);
    return t("hands.pedal.voided", { size, instrument: reading.instrument });
  },

  async mend() {
    const why = mendFirst();
    if (why) throw new Error(why);
    return "";
  },

  // The press of a pedal is as good as a tap.
  async begin() {
    const button = element("begin");
    if (button.hidden) throw new Error(t("hands.pedal.begun"));
    button.click();
    return "";
  },

  async again() {
    if (!speech.again()) throw new Error(t("hands.key.no_voice"));
    return "";
  },
};
