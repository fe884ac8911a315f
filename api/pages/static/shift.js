// The begin of the shift. Before a tap a browser makes no sound, speaks no word and keeps no screen
// awake: so one tap proves all of it, says what is missing, and how to mend it. Each is a switch
// from then on.

import * as alarms from "./alarms.js";
import * as aloud from "./aloud.js";
import * as awake from "./awake.js";
import { element, make, redraw, write } from "./dom.js";
import { read, write as keep } from "./kept.js";
import { named, t } from "./labels.js";
import * as speech from "./speech.js";
import { say } from "./message.js";
import * as tone from "./tone.js";

const SWITCHES = {
  tone: { on: tone.enabled, enable: tone.enable, disable: tone.disable },
  voice: { on: () => speech.enabled() && speech.answers(), enable: () => speech.enable(t("hands.shift.voice_proof")), disable: speech.disable },
  awake: { on: awake.enabled, enable: awake.enable, disable: awake.disable },
};
// How long the stream may take to be live (ms).
const PATIENCE = 3000;

// Why a switch is not on though it was asked for.
const lacking = new Map();
let begun = false;
let closed = true;
let live = false;
let waits = [];
let pages = null;

export function open() {
  const changed = () => draw();
  tone.open({ changed });
  speech.open({ changed: voice });
  awake.open({ changed: screen });
  element("begin").onclick = begin;
  element("prove").onclick = begin;
  element("missing-seen").onclick = seen;
  for (const name of Object.keys(SWITCHES)) element(name).onclick = () => turn(name);
  pages = globalThis.BroadcastChannel ? new BroadcastChannel("witnessmark shift") : null;
  pages?.addEventListener("message", taken);
  draw();
}

// The line to the service is live, or not.
export function line(is) {
  live = is;
  if (live) for (const go of waits.splice(0)) go();
  if (begun) note("stream", live ? null : "lost");
  draw();
}

async function begin() {
  element("begin").disabled = true;
  element("prove").disabled = true;
  const had = [element("begin"), element("prove")].includes(document.activeElement);
  pages?.postMessage("taken");
  await Promise.all([...Object.keys(SWITCHES).map(prove), stream()]);
  element("begin").disabled = false;
  element("prove").disabled = false;
  begun = true;
  closed = signature() === read("goes on without", "");
  draw();
  if (had) element(element("missing").hidden ? "tone" : "missing-seen").focus();
  const missing = [...lacking.keys()].map((name) => named("hands.shift", name)).join(", ");
  say(missing ? t("hands.shift.begun_without", { missing }) : t("hands.shift.begun"), !missing);
  alarms.now();
  aloud.begin();
}

// What somebody goes on without is not asked for again on this browser; the strip still says it.
function seen() {
  keep("goes on without", signature());
  closed = true;
  draw();
  element("tone").focus();
}

function signature() {
  return [...lacking].map((one) => one.join("-")).sort().join(" ");
}

async function prove(name) {
  const one = SWITCHES[name];
  try {
    if (!one.on()) await one.enable();
    note(name, null);
  } catch (error) {
    note(name, error.message);
  }
}

async function stream() {
  if (!live) await new Promise((go) => { waits.push(go); setTimeout(go, PATIENCE); });
  note("stream", live ? null : "lost");
}

async function turn(name) {
  const one = SWITCHES[name];
  if (one.on()) {
    await one.disable();
    note(name, null);
  } else {
    if (name !== "awake") pages?.postMessage("taken");
    await prove(name);
    closed = false;
    if (name === "voice" && one.on()) aloud.begin();
  }
  draw();
}

// Another page of this browser speaks from now on: two would talk at once.
async function taken() {
  if (!tone.enabled() && !speech.enabled()) return;
  speech.disable();
  await tone.disable();
  say(t("hands.shift.taken"));
  draw();
}

function voice() {
  note("voice", speech.enabled() && !speech.answers() ? "silent" : null);
  draw();
}

function screen(why) {
  note("awake", why);
  draw();
}

function note(name, why) {
  if (why) lacking.set(name, why);
  else lacking.delete(name);
}

function draw() {
  element("begin").hidden = begun;
  for (const name of Object.keys(SWITCHES)) light(name);
  const list = [...lacking];
  redraw(element("missing-list"), list, () => list.map(lack));
  element("missing").hidden = !begun || closed || list.length === 0;
}

function light(name) {
  const on = SWITCHES[name].on();
  const word = on && !lacking.has(name) ? "on" : lacking.has(name) ? "missing" : "off";
  const button = element(name);
  button.hidden = !begun;
  button.dataset.is = word;
  button.setAttribute("aria-pressed", String(on));
  write(name, named("hands.is", `${name}-${word}`));
}

function lack([name, why]) {
  const node = make("li");
  node.append(make("strong", named("hands.shift", name)), " ", make("span", named("hands.missing", `${name}-${why}`)));
  return node;
}
