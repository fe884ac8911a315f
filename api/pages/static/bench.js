// The bench page: keeps one state, hears what happens, draws.

import * as alarms from "./alarms.js";
import * as aloud from "./aloud.js";
import * as bracket from "./bracket.js";
import * as choose from "./choose.js";
import { confirm } from "./confirm.js";
import { element } from "./dom.js";
import { instruments } from "./instruments.js";
import { t } from "./labels.js";
import { last, notStored, outcome } from "./last.js";
import { look, worth } from "./look.js";
import { next } from "./next.js";
import * as move from "./move.js";
import * as keyboard from "./keyboard.js";
import * as keyed from "./keyed.js";
import { say } from "./message.js";
import { clock, keep, now } from "./now.js";
import * as menu from "./menu.js";
import * as operator from "./operator.js";
import * as pedals from "./pedals.js";
import * as pulling from "./pulling.js";
import * as service from "./service.js";
import * as settle from "./settle.js";
import * as shift from "./shift.js";
import * as stream from "./stream.js";
import * as strip from "./strip.js";
import * as tight from "./tight.js";
import * as tone from "./tone.js";
import * as tonelist from "./tonelist.js";
import { type } from "./type.js";
import { waiting } from "./waiting.js";
import * as why from "./why.js";
import * as words from "./words.js";

keep(JSON.parse(element("state").textContent));
let live = true;
let fetching = false;
let stale = false;
let drawing = false;
// The newest reading that was heard: the state may bring one before its event comes.
let sounded = now().last?.seq ?? 0;

// In a burst the page asks for the whole state this often at most (ms), and draws once a frame.
const BREATH = 100;
// A line that is back within this time (ms) was shown as lost, and is not worth a sound.
const GRACE = 1500;
// A reading that is not older is heard, also where a newer one is shown already (ms).
const JUST = 5000;
// An instrument that is so will not be heard when its button is pressed.
const GONE = ["silent", "lost", "faulted"];

function show() {
  const state = now();
  strip.build(state);
  next(state);
  showLast();
  waiting(state);
  instruments(state);
  worth(state);
  choose.draw(state);
  move.draw(state);
  operator.draw(state);
  keyboard.draw();
  showAlarm();
  aloud.state(state);
}

function showLast() {
  const { condition, last: reading, next: wanted } = now();
  const step = wanted?.step ?? null;
  pedals.last(reading);
  if (condition.state !== "storing" && condition.held > 0) notStored(reading, step);
  else last(reading, step);
}

function showAlarm() {
  const { condition } = now();
  const trouble = {
    not_storing: () => words.notStoring(condition),
    unknown: () => words.unknown(condition),
  }[condition.state]?.() ?? null;
  strip.line(live);
  strip.alarm(trouble ?? (live ? null : words.LOST));
  if (alarms.lasts("store", trouble && { tone: "not_stored", text: trouble })) say(t("hands.say.stored_again"));
  if (alarms.lasts("line", live ? null : { tone: "lost", text: t("hands.say.lost"), grace: GRACE })) say(t("hands.say.back"));
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
      const { heard, last: newest, bench, size } = now();
      // Another ledger behind the same address, or an older copy of this one: nothing here holds.
      if (fresh.bench !== bench || fresh.size < size) {
        location.reload();
        return;
      }
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
  else if (name === "badge") badge(data);
  else if (name === "torque") pulling.pull(data, now().next?.step ?? null);
  if (id !== null) refresh();
}

function reading(data) {
  const state = now();
  const known = state.last?.seq ?? 0;
  if (data.seq >= known) {
    state.last = data;
    drawLast();
  }
  if (data.seq <= sounded) return;
  sounded = data.seq;
  // The state may have been ahead of the stream by more than one; what a line that was lost brings
  // late is not sounded press by press.
  if (data.seq < known && clock() - Date.parse(data.received_at) > JUST) return;
  pulling.stored(data);
  const { taken, result } = outcome(data);
  tone.play(taken ? "taken" : result);
  aloud.reading(data, known >= data.seq);
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
  const before = (state.devices ?? []).find((one) => one.instrument === data.instrument);
  state.devices = [...(state.devices ?? []).filter((one) => one.instrument !== data.instrument), data];
  instruments(state);
  if (before && GONE.includes(data.state) && before.state !== data.state) {
    say(t("hands.say.device", { instrument: data.instrument, state: words.device(data) }), false);
  }
}

// A pedal of the service: every press is told, also one that did nothing.
function pedal(data) {
  const state = now();
  const before = (state.pedals ?? []).find((one) => one.pedal === data.pedal);
  state.pedals = [...(state.pedals ?? []).filter((one) => one.pedal !== data.pedal), data];
  keyboard.draw();
  if (!data.press || data.press.at === before?.press?.at) return;
  const done = data.press.result === "done";
  const { detail } = data.press;
  say(done ? t("hands.pedal.done", { pedal: data.pedal, detail: `${detail}.` }) : t("hands.pedal.not_done", { pedal: data.pedal, why: `${detail}.` }), done);
}

// A badge scanner of the service: every scan is told, also one that changed nothing.
function badge(data) {
  const state = now();
  const before = (state.badge_readers ?? []).find((one) => one.reader === data.reader);
  state.badge_readers = [...(state.badge_readers ?? []).filter((one) => one.reader !== data.reader), data];
  if (!data.scan || data.scan.at === before?.scan?.at) return;
  operator.told(data.scan);
}

function condition(data) {
  const state = now();
  const better = data.state === "storing" && state.condition.state !== "storing";
  state.condition = data;
  showLast();
  showAlarm();
  if (better) refresh();
}

element("void").onclick = () => settle.drop(now().last);
element("bracket").onclick = () => bracket.enter(now().next.step, now());
element("type").onclick = () => type(now().next.step, now());
element("look").onclick = () => look();
element("choose").onclick = () => choose.open();
element("move").onclick = () => move.open();
element("keyed").onclick = () => keyed.open();

element("confirm").onclick = async (event) => {
  const button = event.currentTarget;
  button.disabled = true;
  try {
    await confirm();
  } catch (error) {
    strip.alarm(t("hands.not_confirmed", { why: service.plainly(error) }));
  } finally {
    button.disabled = false;
  }
};

// While the store is in trouble, how much is held changes without an event; and a service too busy
// to tell its state in time says so, and is asked again.
setInterval(() => {
  const { condition: store, known } = now();
  if (live && (store.state !== "storing" || !known)) refresh();
}, 1000);

keyboard.open({ changed: () => instruments(now()) });
operator.open();
tonelist.open();
shift.open();
menu.open();
why.open();
tight.open();
show();
stream.listen(now().size, now().bench, {
  heard,
  opened() {
    live = true;
    shift.line(true);
    showAlarm();
    keyboard.back();
    refresh();
  },
  lost() {
    live = false;
    shift.line(false);
    showAlarm();
  },
});
