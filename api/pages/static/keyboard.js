// The page's keyboard: told apart are a gauge that types, pedals, and a person.

import { element, list, write as put } from "./dom.js";
import { numeric, otherLayout, understood } from "./gaugetext.js";
import { read, write } from "./kept.js";
import { now } from "./now.js";
import * as outbox from "./outbox.js";
import * as pedals from "./pedals.js";
import { inField, replay } from "./replay.js";
import * as tone from "./tone.js";
import { PACE, Typing } from "./typing.js";
import * as words from "./words.js";

const BESIDE = ["Shift", "Control", "Alt", "Meta", "AltGraph", "CapsLock", "NumLock"];
const ENDS = ["Enter", "Tab"];

const swallowed = new Set();
let refusals = [];
let learner = null;
let typing = null;
let told = () => {};

// changed() is called when another gauge types here, or none.
export function open({ changed }) {
  told = changed;
  typing = new Typing({ machine, person, slow, pace: { ...PACE, ...read("pace", {}) } });
  pedals.open(now().size);
  outbox.open({ changed: loud, refused: (reading, why) => refuse(`${reading.value} ${reading.unit} from ${reading.instrument}`, why) });
  element("seen").onclick = () => { refusals = []; loud(); };
  addEventListener("keydown", down, true);
  addEventListener("keyup", up, true);
  addEventListener("online", () => outbox.send());
  addEventListener("storage", () => { draw(); told(); });
  draw();
}

// The line to the service is back.
export function back() {
  outbox.send();
}

// The instrument whose typing this page takes; null where there is none.
export function assigned() {
  return read("types", null);
}

export function assign(id) {
  write("types", id);
  draw();
  told();
}

// The next key that is pressed, as a pedal: learnt(event), which says why it cannot be one, or null.
export function learn(learnt) {
  learner = learnt;
}

// What is kept, and what the service's own pedals do.
export function draw() {
  const gauge = assigned();
  list("keys", [
    ...(gauge ? [`${gauge} types into this page`] : []),
    ...pedals.all().map((one) => `Pedal ${pedals.said(one)}`),
    ...(now().pedals ?? []).map(words.servicePedal),
  ]);
}

function down(event) {
  // What is done again for a person comes by here too; what an input method composes is text; and a
  // browser that fills in a form tells of a key without a name.
  if (!event.isTrusted || !event.key || event.isComposing || BESIDE.includes(event.key)) return;
  const at = event.timeStamp;
  if (learner) {
    if (event.code !== "Escape" && event.code !== "Tab") {
      swallow(event);
      if (!event.repeat) learner(event);
    }
    return;
  }
  const plain = (!event.ctrlKey && !event.altKey && !event.metaKey) || event.getModifierState("AltGraph");
  const writes = plain && [...event.key].length === 1;
  const pedal = pedals.of(pedals.chord(event));
  if (pedal && (!writes || (!assigned() && !inField()))) {
    typing.flush();
    swallow(event);
    pedals.press(pedal, { at, repeat: event.repeat });
  } else if (assigned()) {
    hold(event, { key: event.key, code: event.code, chord: pedals.chord(event), at }, writes, plain);
  }
}

function hold(event, key, writes, plain) {
  if (writes && !event.repeat) {
    swallow(event);
    typing.press(key);
  } else if (plain && !event.repeat && ENDS.includes(event.key)) {
    if (typing.end(key)) swallow(event);
  } else {
    typing.flush();
  }
}

function swallow(event) {
  swallowed.add(event.code);
  event.preventDefault();
  event.stopImmediatePropagation();
}

// Some browsers press a button when its key is let go.
function up(event) {
  if (!swallowed.delete(event.code)) return;
  event.preventDefault();
  event.stopImmediatePropagation();
}

function machine({ text, codes, torn }) {
  const instrument = assigned();
  const found = torn ? null : understood(text);
  const unit = found?.unit ?? (now().instruments ?? []).find((one) => one.id === instrument)?.unit;
  if (torn) refuse(text, "It came haltingly, or other keys were pressed just before it. Send it again.");
  else if (!found) refuse(text, unread(text, codes));
  else if (!unit) refuse(text, `This bench has no instrument ${instrument}: choose the one that types.`);
  else outbox.add({ instrument, value: found.value, unit });
}

function unread(text, codes) {
  return otherLayout(text, codes)
    ? "This computer's keyboard layout makes other characters of the gauge's digits. Choose the layout that the gauge is made for, then send it again."
    : "This is no reading. Send it again.";
}

function person(keys, { ended, fast }) {
  const text = keys.map((one) => one.key).filter((key) => key.length === 1).join("");
  const pedal = keys.length === 1 && !inField() ? pedals.of(keys[0].chord) : null;
  if (pedal) pedals.press(pedal, { at: keys[0].at, repeat: false });
  else if (!inField() && fast && numeric(text)) refuse(text, ended ? "It is too short to be told from a key that slipped. Send it again." : "No Enter came behind it. Set the gauge to end with Enter.");
  else replay(keys);
}

function slow(text) {
  if (inField() || !numeric(text) || text.length + 1 < PACE.least) return false;
  refuse(text, "It came as slowly as a person types. Send it again; if that happens often, type it in.");
  return true;
}

function refuse(text, why) {
  refusals.push({ text, why });
  tone.play("not_stored");
  loud();
}

// Loud until it was seen: what was typed and is not stored, and what waits to be sent.
function loud() {
  const waits = outbox.waiting().map((one) => one.reading);
  const text = [...refusals.map(words.notTaken), ...(waits.length ? [words.notSent(waits)] : [])].join(" ");
  put("loud-text", text);
  element("loud").hidden = !text;
  element("seen").hidden = refusals.length === 0;
}
