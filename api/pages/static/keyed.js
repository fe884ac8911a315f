// Which gauge types into this page, and which keys are pedals: asked, shown, taken back.

import { ask, BACK, conclude, flow, trouble } from "./dialog.js";
import { make } from "./dom.js";
import { t } from "./labels.js";
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
      label: t("bench.keyed.label"),
      what: t("bench.keyed.what"),
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
  if (assigned) return [[`silent ${assigned}`, t("bench.keyed.no_longer", { instrument: assigned })]];
  return (now().instruments ?? []).filter(mayType).map((one) => [`types ${one.id}`, t("bench.keyed.types", { instrument: one.id })]);
}

function feet() {
  return [
    ...pedals.all().map((one) => [`remove ${one.chord}`, t("bench.keyed.remove", { pedal: pedals.said(one) })]),
    ["pedal", t("bench.keyed.add")],
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
    label: t("bench.keyed.types", { instrument: one.id }),
    what: t("bench.keyed.types_what"),
    content: [make("p", t("bench.keyed.types_unit", { unit: one.unit }), "hint")],
    done: t("bench.keyed.types_do"),
    act: async () => keyboard.assign(one.id),
  });
}

export async function silent() {
  keyboard.assign(null);
}

async function pedal() {
  const options = [
    ["confirm", t("bench.keyed.confirm")],
    ["void", t("bench.keyed.void")],
    ["mend", t("hands.pedal.learn_mend")],
    ["again", t("hands.pedal.learn_again")],
    ["begin", t("hands.pedal.learn_begin")],
    ...(now().askable ?? []).map((id) => [`send ${id}`, t("bench.keyed.send", { instrument: id })]),
  ];
  for (;;) {
    const said = await ask({
      label: t("bench.keyed.does"), done: t("bench.ask.go_on"),
      fields: [{ name: "does", label: t("bench.keyed.each"), kind: "tiles", wide: true, options }],
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
      label: t("bench.keyed.press"),
      what: t("bench.keyed.press_what", { does: words.pedal(does, instrument) }),
      done: null, back: true,
    });
    if (found && found !== BACK) pedals.add({ ...found, does, instrument });
    return found;
  } finally {
    keyboard.learn(null);
  }
}
