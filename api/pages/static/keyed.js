// Which gauge types into this page, and which keys are pedals: asked, shown, taken back.

import { ask, BACK, conclude, flow, trouble } from "./dialog.js";
import { make } from "./dom.js";
import * as keyboard from "./keyboard.js";
import { now } from "./now.js";
import * as pedals from "./pedals.js";
import * as words from "./words.js";

// The instruments whose cable may type: those that a person would type in.
export function mayType(one) {
  return one.port === "typed" && !one.leaves?.length;
}

export function open() {
  return flow(async () => {
    const said = await ask({
      label: "Gauges that type, and pedals",
      what: "Kept in this browser, for this page only.",
      choices: [...gauges(), ...feet()],
    });
    const [what, name] = said ? cut(said.chosen) : [];
    if (what === "types") await types((now().instruments ?? []).find((one) => one.id === name));
    else if (what === "silent") keyboard.assign(null);
    else if (what === "remove") pedals.remove(name);
    else if (what === "pedal") await pedal();
    keyboard.draw();
  });
}

function gauges() {
  const assigned = keyboard.assigned();
  if (assigned) return [[`silent ${assigned}`, `${assigned} no longer types into this page`]];
  return (now().instruments ?? []).filter(mayType).map((one) => [`types ${one.id}`, `${one.id} types into this page`]);
}

function feet() {
  return [
    ...pedals.all().map((one) => [`remove ${one.chord}`, `Remove the pedal ${pedals.said(one)}`]),
    ["pedal", "Add a pedal"],
  ];
}

// "remove Control+KeyB" to the word and the rest.
function cut(chosen) {
  const at = chosen.indexOf(" ");
  return at < 0 ? [chosen, ""] : [chosen.slice(0, at), chosen.slice(at + 1)];
}

// From now on what a machine types here is a reading of this instrument.
export function types(one) {
  return ask({
    label: `${one.id} types into this page`,
    what: "Digits that come as fast as only a machine types, with Enter behind them, are readings of this instrument, wherever the cursor stands. What you type yourself is not touched.",
    content: [make("p", `Without a unit of its own a reading is taken in ${one.unit}. A gauge that types somewhere else than into this page cannot be heard.`, "hint")],
    done: "It types here",
    act: async () => keyboard.assign(one.id),
  });
}

export async function silent() {
  keyboard.assign(null);
}

async function pedal() {
  const options = [
    ["confirm", "Confirm the step"],
    ["void", "Void the last reading"],
    ...(now().askable ?? []).map((id) => [`send ${id}`, `SEND on ${id}`]),
  ];
  for (;;) {
    const said = await ask({
      label: "What the pedal does", done: "Go on",
      fields: [{ name: "does", label: "Each press", kind: "tiles", wide: true, options }],
    });
    if (!said) return;
    const [does, instrument] = cut(said.does);
    if (await learnt(does, instrument || null) !== BACK) return;
  }
}

// Waits for the pedal's key.
async function learnt(does, instrument) {
  keyboard.learn((event) => {
    const against = pedals.refusal(event);
    if (against) {
      trouble(against);
      return;
    }
    const chord = pedals.chord(event);
    const shown = event.key.length === 1 ? event.key.trim() || chord : chord;
    conclude({ chord, shown });
  });
  try {
    const found = await ask({
      label: "Press the pedal now",
      what: `It ${words.pedal(does, instrument)} from then on, when this page has the keyboard. Where a pedal's key writes a letter, it is a pedal only while no field is being filled in.`,
      done: null, back: true,
    });
    if (found && found !== BACK) pedals.add({ ...found, does, instrument });
    return found;
  } finally {
    keyboard.learn(null);
  }
}
