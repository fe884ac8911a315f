// The page's keyboard: told apart are what a machine types (a gauge, a badge scanner), pedals, and a
// person.

import * as alarms from "./alarms.js";
import { element, list, write as put } from "./dom.js";
import { numeric, otherLayout, understood } from "./gaugetext.js";
import { read, write } from "./kept.js";
import { t } from "./labels.js";
import { say } from "./message.js";
import { now } from "./now.js";
import * as onekey from "./onekey.js";
import * as operator from "./operator.js";
import * as outbox from "./outbox.js";
import * as pedals from "./pedals.js";
import { inField, inText, replay } from "./replay.js";
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
  onekey.open();
  outbox.open({ changed: loud, refused: (reading, why) => refuse(t("hands.typed.reading", { size: `${reading.value} ${reading.unit}`, instrument: reading.instrument }), why) });
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
    ...(gauge ? [t("hands.typed.types", { instrument: gauge })] : []),
    ...pedals.all().map((one) => t("hands.pedal.is", { pedal: pedals.said(one) })),
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
  const field = inField();
  const held = listening();
  if (pedal && (!writes || !held)) {
    // A letter in a field is text, and else no machine has it under way.
    if (writes && field) return;
    typing.flush();
    swallow(event);
    pedals.press(pedal, { at, repeat: event.repeat });
  } else if (held) {
    hold(event, { key: event.key, code: event.code, chord: pedals.chord(event), at, alone: !field }, writes, plain);
  }
}

// Whether keys are held until it is known who types. Where no machine is expected, a person's own
// typing in a field is left alone.
function listening() {
  return expected() || !(inField() || document.activeElement?.matches("select"));
}

function expected() {
  return assigned() !== null || operator.badges();
}

function hold(event, key, writes, plain) {
  // A blank alone presses what has the focus; a gauge may begin with one.
  if (key.key === " " && !typing.holds && !expected()) return;
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

function machine({ text, keys, torn }) {
  const instrument = assigned();
  if (operator.bearer(text)) operator.scanned(text.trim());
  else if (instrument === null) nobodys(text, keys);
  else reading(text, keys, torn, instrument);
}

// No gauge is expected to type here. In a field it is text, of a scanner of serial numbers; its Enter
// presses nothing, wherever the focus is.
function nobodys(text, keys) {
  const why = t(operator.badges() ? "hands.typed.nobodys_badge" : "hands.typed.nobodys", { text: text.trim() });
  const asked = operator.answers(why);
  if (!asked && inText()) replay(keys.filter((one) => !ENDS.includes(one.key)));
  else say(why, false);
}

function reading(text, keys, torn, instrument) {
  const found = torn ? null : understood(text);
  const unit = found?.unit ?? (now().instruments ?? []).find((one) => one.id === instrument)?.unit;
  if (torn) refuse(text, t("hands.typed.torn"));
  else if (!found) refuse(text, unread(text, keys));
  else if (!unit) refuse(text, t("hands.typed.unknown", { instrument }));
  else outbox.add({ instrument, value: found.value, unit });
}

function unread(text, keys) {
  if (otherLayout(text, keys.slice(0, -1).map((one) => one.code))) return t("hands.typed.layout");
  return operator.badges() ? t("hands.typed.no_reading_no_badge") : t("hands.typed.no_reading");
}

function person(keys, { ended, fast, text = "" }) {
  if (ended && operator.bearer(text)) {
    operator.scanned(text.trim());
    return;
  }
  if (inField()) {
    replay(keys);
    return;
  }
  const [first] = keys;
  // What one contact sends twice is one pedal.
  const pedal = keys.every((one) => one.chord === first.chord) ? pedals.of(first.chord) : null;
  if (pedal) pedals.press(pedal, { at: first.at, repeat: false });
  else if (keys.length > 1) several(keys, ended, fast);
  else if (!onekey.press(first.key)) replay(keys);
}

// Several keys at once in no field: a slow machine's, or a hand that slipped. None of them does what it
// does alone, and an Enter behind them presses nothing.
function several(keys, ended, fast) {
  const text = keys.map((one) => one.key).filter((key) => key.length === 1).join("");
  if (assigned() && numeric(text) && (fast || ended)) refuse(text, whyNot(ended, fast));
  else if (ended) nobodys(text, keys);
  else if (text.trim()) say(t("hands.typed.at_once", { text: text.trim() }), false);
}

function whyNot(ended, fast) {
  if (!ended) return t("hands.typed.no_enter");
  return fast ? t("hands.typed.short") : t("hands.typed.slow");
}

// An Enter close behind what was let go already.
function slow(text) {
  if (operator.bearer(text)) {
    operator.scanned(text.trim());
    return true;
  }
  if (inField()) return false;
  if (assigned() && numeric(text) && text.length + 1 >= PACE.least) refuse(text, t("hands.typed.slow"));
  return text.length > 1;
}

function refuse(text, why) {
  refusals.push({ text, why });
  loud();
  alarms.anew("typed");
}

// Loud until it was seen: what was typed and is not stored, and what waits to be sent.
function loud() {
  const waits = outbox.waiting().map((one) => one.reading);
  const text = [...refusals.map(words.notTaken), ...(waits.length ? [words.notSent(waits)] : [])].join(" ");
  put("loud-text", text);
  alarms.lasts("typed", text ? { tone: "not_stored", text } : null);
  element("loud").hidden = !text;
  element("seen").hidden = refusals.length === 0;
}
