// The bench page: keeps one state, hears what happens, draws.

import * as bracket from "./bracket.js";
import { confirm } from "./confirm.js";
import { element } from "./dom.js";
import { instruments } from "./instruments.js";
import { last, notStored, outcome } from "./last.js";
import { look, worth } from "./look.js";
import { next } from "./next.js";
import * as keyboard from "./keyboard.js";
import * as keyed from "./keyed.js";
import { say } from "./message.js";
import { keep, now } from "./now.js";
import * as service from "./service.js";
import * as settle from "./settle.js";
import * as strip from "./strip.js";
import * as tone from "./tone.js";
import { type } from "./type.js";
import { waiting } from "./waiting.js";
import * as words from "./words.js";

keep(JSON.parse(element("state").textContent));
let live = true;
let fetching = false;
let stale = false;
let drawing = false;

// In a burst the page asks for the whole state this often at most (ms), and draws once a frame.
const BREATH = 100;

function show() {
  const state = now();
  strip.build(state);
  next(state);
  showLast();
  waiting(state);
  instruments(state);
  worth(state);
  keyboard.draw();
  showAlarm();
}

function showLast() {
  const { condition, last: reading, next: wanted } = now();
  const step = wanted?.step ?? null;
  if (condition.state !== "storing" && condition.held > 0) notStored(reading, step);
  else last(reading, step);
}

function showAlarm() {
  const { condition } = now();
  strip.line(live);
  if (condition.state === "not_storing") strip.alarm(words.notStoring(condition));
  else if (condition.state === "unknown") strip.alarm(words.unknown(condition));
  else strip.alarm(live ? null : words.LOST);
}

// One request at a time; what happens meanwhile asks for one more.
async function refresh() {
  if (fetching) {
    stale = true;
    return;
  }
  fetching = true;
  try {
    do {
      stale = false;
      const fresh = await service.state();
      const { heard, last: newest } = now();
      // The stream may already have brought a newer reading than this answer holds.
      if (newest && fresh.last && fresh.size < (heard ?? 0)) fresh.last = newest;
      keep({ ...fresh, heard });
      show();
      if (stale) await new Promise((done) => { setTimeout(done, BREATH); });
    } while (stale);
  } catch {
    // The stream notices a lost line and asks again when it is back.
  } finally {
    fetching = false;
  }
}

function heard(name, data, id) {
  if (id !== null) now().heard = id;
  if (name === "reading") reading(data);
  else if (name === "device") device(data);
  else if (name === "condition") condition(data);
  else if (name === "pedal") pedal(data);
  if (id !== null) refresh();
}

function reading(data) {
  const state = now();
  const newest = !state.last || data.seq >= state.last.seq;
  if (!newest) return;
  const first = data.seq !== state.last?.seq;
  state.last = data;
  drawLast();
  if (first) sound(outcome(data));
}

function sound({ taken, result }) {
  tone.play(taken ? "taken" : result);
}

function drawLast() {
  if (drawing) return;
  drawing = true;
  requestAnimationFrame(() => {
    drawing = false;
    showLast();
    showAlarm();
  });
}

function device(data) {
  const state = now();
  state.devices = [...(state.devices ?? []).filter((one) => one.instrument !== data.instrument), data];
  instruments(state);
}

// A pedal of the service: every press is told, also one that did nothing.
function pedal(data) {
  const state = now();
  const before = (state.pedals ?? []).find((one) => one.pedal === data.pedal);
  state.pedals = [...(state.pedals ?? []).filter((one) => one.pedal !== data.pedal), data];
  keyboard.draw();
  if (!data.press || data.press.at === before?.press?.at) return;
  const done = data.press.result === "done";
  say(`Pedal ${data.pedal}: ${done ? "" : "NOT DONE. "}${data.press.detail}.`, done);
}

function condition(data) {
  const state = now();
  const worse = data.state !== "storing" && state.condition.state === "storing";
  const better = data.state === "storing" && state.condition.state !== "storing";
  state.condition = data;
  if (worse) tone.play("not_stored");
  showLast();
  showAlarm();
  if (better) refresh();
}

element("void").onclick = () => settle.drop(now().last);
element("bracket").onclick = () => bracket.enter(now().next.step, now());
element("type").onclick = () => type(now().next.step, now());
element("look").onclick = () => look();
element("keyed").onclick = () => keyed.open();

element("confirm").onclick = async (event) => {
  const button = event.currentTarget;
  button.disabled = true;
  try {
    await confirm();
  } catch (error) {
    strip.alarm(`Not confirmed. ${error.message}`);
  } finally {
    button.disabled = false;
  }
};

element("sound").onclick = async (event) => {
  const button = event.currentTarget;
  if (tone.enabled()) await tone.disable();
  else await tone.enable();
  button.setAttribute("aria-pressed", String(tone.enabled()));
  button.textContent = tone.enabled() ? "Sound is on" : "Sound is off";
};

// While the store is in trouble, how much is held changes without an event; and a service too busy
// to tell its state in time says so, and is asked again.
setInterval(() => {
  const { condition: store, known } = now();
  if (live && (store.state !== "storing" || !known)) refresh();
}, 1000);

keyboard.open({ changed: () => instruments(now()) });
show();
service.listen(now().size, {
  heard,
  opened() {
    live = true;
    showAlarm();
    keyboard.back();
    refresh();
  },
  lost() {
    live = false;
    showAlarm();
  },
});
