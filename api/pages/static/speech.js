// The voice. What is said is short and of now: the newest wins, few sentences wait, and a voice that
// never comes to its end is given up. Only a voice of this computer is used: another would hand what
// is said to somebody else, and be silent without the internet. A browser speaks no word before a tap.

import { language } from "./labels.js";
import { spelled } from "./spell.js";

const MOST = 12;
// How long a sentence may take (ms): to begin, and for each of its signs.
const BEGIN = 5000;
const SIGN = 150;
// How long a browser may take to list its voices (ms).
const LISTING = 2000;
// Voices that were given up one after the other until it is said that there is none.
const GIVEN_UP = 2;

// What a topic makes out of date.
const OVER = {
  verdict: ["verdict", "next", "caution", "told"],
  next: ["next", "caution"],
  told: ["told"],
  alarm: ["verdict", "next", "caution", "told", "alarm"],
};

let voice = null;
let on = false;
let queue = [];
let speaking = null;
let timer = 0;
let silent = 0;
let said = [];
let told = () => {};

// changed() is called when the voice no longer answers, or does again.
export function open({ changed }) {
  told = changed;
}

export function enabled() {
  return on;
}

// Whether the voice begins what it is given.
export function answers() {
  return silent < GIVEN_UP;
}

// Finds a voice and hears it out. Raises an Error that says why not: "unsupported", "no-voice" or
// "silent". Called in a tap.
export async function enable(text) {
  if (!globalThis.speechSynthesis) throw new Error("unsupported");
  voice = await found();
  if (!voice) throw new Error("no-voice");
  on = true;
  silent = 0;
  const heard = await new Promise((done) => { put([{ topic: "told", text, heard: () => done(true), gone: () => done(false) }]); });
  if (heard) return;
  disable();
  throw new Error("silent");
}

export function disable() {
  on = false;
  empty();
  hush();
}

// Says sentences: texts, or { text, topic, heard } with heard() called once it was said to its end.
export function say(topic, sentences) {
  const items = sentences.map((one) => (typeof one === "string" ? { topic, text: one } : { topic, ...one }));
  // Asked for again is what was last to be heard, also while it was off.
  if (topic === "next" || topic === "verdict") remember(topic, items);
  if (!on || items.length === 0) return;
  const over = OVER[topic];
  empty((one) => over.includes(one.topic));
  if (speaking && over.includes(speaking.topic)) hush();
  put(items);
}

// The verdict and the next step once more.
export function again() {
  if (!on || said.length === 0) return false;
  empty();
  hush();
  put(said.map(({ text }) => ({ topic: "told", text })));
  return true;
}

function remember(topic, items) {
  said = topic === "verdict" ? items : [...said.filter((one) => one.topic === "verdict"), ...items];
}

function put(items) {
  queue = [...queue, ...items];
  const most = queue.length - MOST;
  empty((_, at) => at < most);
  forward();
}

// Drops what waits and is `meant`: everything, where nothing is said of it.
function empty(meant = () => true) {
  const dropped = queue.filter(meant);
  queue = queue.filter((one) => !dropped.includes(one));
  for (const one of dropped) one.gone?.();
}

function forward() {
  if (speaking || queue.length === 0) return;
  const item = queue.shift();
  const utterance = new SpeechSynthesisUtterance(spelled(item.text));
  Object.assign(utterance, { voice, lang: voice.lang });
  // Held until its end: some browsers forget one that nobody holds, and its end with it.
  speaking = { ...item, utterance };
  utterance.onend = () => ended(utterance, true);
  utterance.onerror = () => ended(utterance, false);
  timer = setTimeout(late, BEGIN + SIGN * item.text.length);
  speechSynthesis.speak(utterance);
}

function ended(utterance, whole) {
  if (speaking?.utterance !== utterance) return;
  const { heard, gone: lost } = speaking;
  clear();
  if (whole) answered();
  if (whole) heard?.();
  else lost?.();
  forward();
}

function answered() {
  const before = answers();
  silent = 0;
  if (!before) told();
}

function late() {
  hush();
  silent += 1;
  if (silent === GIVEN_UP) told();
  forward();
}

function hush() {
  const item = speaking;
  if (!item) return;
  clear();
  speechSynthesis.cancel();
  item.gone?.();
}

function clear() {
  clearTimeout(timer);
  speaking = null;
}

async function found() {
  const start = performance.now();
  for (;;) {
    const local = speechSynthesis.getVoices().filter((one) => one.localService && speaks(one));
    if (local.length) return local.find((one) => one.default) ?? local[0];
    if (performance.now() - start > LISTING) return null;
    await new Promise((done) => { setTimeout(done, 50); });
  }
}

// "de-AT" and "de_AT" speak "de".
function speaks({ lang }) {
  return lang.toLowerCase().split(/[-_]/u)[0] === language;
}
