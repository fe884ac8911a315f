// The bench page: keeps one state, hears what happens, draws.

import * as draw from "./draw.js";
import * as service from "./service.js";
import * as tone from "./tone.js";
import * as words from "./words.js";

let state = JSON.parse(draw.element("state").textContent);
let live = true;
let fetching = false;
let stale = false;
let drawing = false;

// In a burst the page asks for the whole state this often at most (ms), and draws once a frame.
const BREATH = 100;

function show() {
  draw.build(state);
  draw.next(state);
  showLast();
  draw.waiting(state, actions);
  draw.instruments(state);
  showAlarm();
}

function showLast() {
  const { condition, last } = state;
  if (condition.state !== "storing" && condition.held > 0) draw.notStored(last);
  else draw.last(last);
}

function showAlarm() {
  const { condition } = state;
  draw.line(live);
  if (condition.state === "not_storing") draw.alarm(words.notStoring(condition));
  else if (condition.state === "unknown") draw.alarm(words.unknown(condition));
  else draw.alarm(live ? null : words.LOST);
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
      // The stream may already have brought a newer reading than this answer holds.
      if (state.last && fresh.last && fresh.size < (state.heard ?? 0)) fresh.last = state.last;
      state = { ...fresh, heard: state.heard };
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
  if (id !== null) state.heard = id;
  if (name === "reading") reading(data);
  else if (name === "device") device(data);
  else if (name === "condition") condition(data);
  if (id !== null) refresh();
}

function reading(data) {
  const newest = !state.last || data.seq >= state.last.seq;
  if (!newest) return;
  const first = data.seq !== state.last?.seq;
  state.last = data;
  drawLast();
  if (first) tone.play(data.verdict.result);
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
  state.devices = [...(state.devices ?? []).filter((one) => one.instrument !== data.instrument), data];
  draw.instruments(state);
}

function condition(data) {
  const worse = data.state !== "storing" && state.condition.state === "storing";
  const better = data.state === "storing" && state.condition.state !== "storing";
  state.condition = data;
  if (worse) tone.play("not_stored");
  showLast();
  showAlarm();
  if (better) refresh();
}

// Asks for a reason, then does it. Leaving does nothing.
function ask(label, what, act) {
  const dialog = draw.element("ask");
  const reason = draw.element("ask-reason");
  const problem = draw.element("ask-problem");
  draw.element("ask-label").textContent = label;
  draw.element("ask-what").textContent = what;
  problem.textContent = "";
  reason.value = "";
  draw.element("ask-leave").onclick = () => dialog.close();
  dialog.querySelector("form").onsubmit = async (event) => {
    event.preventDefault();
    try {
      await act(reason.value);
      dialog.close();
    } catch (error) {
      problem.textContent = error.message;
    }
  };
  dialog.showModal();
}

const actions = {
  drop(one) {
    ask("Void this reading", `${one.value} ${one.unit} from ${one.instrument} will not count. It stays stored.`,
      (reason) => service.post(`/v1/readings/${one.seq}/voids`, { reason }));
  },
  place(one, step) {
    ask("Place this reading", `${one.value} ${one.unit} from ${one.instrument} on: ${step.title} (${step.id})`,
      (reason) => service.post(`/v1/readings/${one.seq}/placements`, { build: state.build.id, step: step.id, reason }));
  },
};

draw.element("void").onclick = () => actions.drop(state.last);

draw.element("confirm").onclick = async (event) => {
  const button = event.currentTarget;
  button.disabled = true;
  try {
    await service.post(`/v1/builds/${state.build.id}/confirmations`, { step: state.next.step.id });
  } catch (error) {
    draw.alarm(`Not confirmed. ${error.message}`);
  } finally {
    button.disabled = false;
  }
};

draw.element("sound").onclick = async (event) => {
  const button = event.currentTarget;
  if (tone.enabled()) await tone.disable();
  else await tone.enable();
  button.setAttribute("aria-pressed", String(tone.enabled()));
  button.textContent = tone.enabled() ? "Sound is on" : "Sound is off";
};

// While the store is in trouble, how much is held changes without an event.
setInterval(() => { if (live && state.condition.state !== "storing") refresh(); }, 1000);

show();
service.listen(state.size, {
  heard,
  opened() {
    live = true;
    showAlarm();
    refresh();
  },
  lost() {
    live = false;
    showAlarm();
  },
});
