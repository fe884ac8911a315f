// From the state to what is seen. Text is only ever set as text.

import * as words from "./words.js";

const SVG = "http://www.w3.org/2000/svg";

// Each verdict has a shape of its own, drawn to be told apart without colour.
const SHAPES = {
  conforming: ["M20 3a17 17 0 1 0 .01 0z", "M11 21l6 6 12-14"],
  nonconforming: ["M3 3h34v34H3z", "M11 11l18 18M29 11L11 29"],
  undecided: ["M20 2l18 18-18 18L2 20z", "M14 15c0-8 12-8 12 0 0 5-6 5-6 9M20 28v2"],
  not_evaluated: ["M20 4L38 36H2z", "M20 15v8M20 31v.1"],
};

// Readings that wait are listed newest last, this many of them; the others are counted.
const SHOWN = 5;
// More facts and cautions than this would not fit on a screen in letters for two metres.
const MUCH = 4;

export function element(id) {
  return document.getElementById(id);
}

function write(id, text) {
  const node = element(id);
  if (node.textContent !== text) node.textContent = text;
}

function make(tag, text, className) {
  const node = document.createElement(tag);
  if (text) node.textContent = text;
  if (className) node.className = className;
  return node;
}

function shape(result) {
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("viewBox", "0 0 40 40");
  svg.setAttribute("aria-hidden", "true");
  svg.classList.add("shape");
  SHAPES[result].forEach((line, index) => {
    const path = document.createElementNS(SVG, "path");
    path.setAttribute("d", line);
    path.setAttribute("class", index ? "sign" : "ground");
    svg.append(path);
  });
  return svg;
}

function facts(id, pairs) {
  element(id).replaceChildren(
    ...pairs.filter(([, value]) => value).flatMap(([name, value]) => [make("dt", name), make("dd", value)]),
  );
}

// "Cylinder bore 2 · top thrust": what a step or a placement is about.
function where(one) {
  const number = one.count === 1 ? "" : ` ${one.number}`;
  const part = one.part ? `${one.part_title ?? words.plain(one.part)}${number}` : "";
  const reading = one.repeats > 1 ? `reading ${one.repeat} of ${one.repeats}` : "";
  const again = one.pass > 1 ? `pass ${one.pass}` : "";
  return [part, one.stage ?? words.plain(one.point ?? ""), reading, again].filter(Boolean).join(" · ");
}

export function next(state) {
  const step = state.next?.step ?? null;
  const none = !state.build
    ? "No build is open"
    : state.next?.done ? "Every step is done" : "Nothing can go on until a result is settled";
  write("next-label", step ? `Next: ${words.KINDS[step.kind].toLowerCase()}` : "Next");
  write("next-title", step ? step.title : none);
  write("next-where", step ? where(step) : "");
  facts("next-facts", step ? [
    ["Torque", step.target ? `${step.target} ${step.unit}` : ""],
    ["Threads", step.lubricant ?? ""],
    ["With", (step.instruments ?? []).map(words.plain).join(" or ")],
    ["Limits", step.kind === "confirm" ? "" : words.limits(step.lower, step.upper, step.unit)],
    ["To confirm", step.kind === "confirm" ? step.text : ""],
  ] : []);
  const said = element("next-facts").children.length / 2 + (step?.cautions ?? []).length;
  element("next").dataset.full = said > MUCH ? "yes" : "no";
  element("cautions").replaceChildren(...(step?.cautions ?? []).map((text) => make("li", text)));
  element("confirm").hidden = step?.kind !== "confirm";
}

export function build(state) {
  const one = state.build;
  write("build", one ? one.title : "");
  write("progress", one ? `${one.steps_done} of ${one.steps_total} steps` : "");
  // A notice matters where a spec is not invented, too: then it stands without the mark.
  const notice = one?.notice?.trim() ?? "";
  const general = one?.cautions ?? [];
  element("invented").hidden = !one?.invented && !notice;
  element("invented").querySelector("b").hidden = !one?.invented;
  write("notice", notice);
  element("general").replaceChildren(...general.map((text) => make("li", text)));
  element("about").hidden = !one?.invented && !notice && general.length === 0;
}

export function last(reading) {
  element("void").hidden = !reading || reading.placement?.reason?.code === "void";
  if (!reading) {
    write("digits", "–");
    write("unit", "");
    for (const id of ["stored", "verdict", "placed"]) write(id, "");
    write("placed", "No reading yet. Press SEND on an instrument.");
    facts("last-facts", []);
    return;
  }
  const { verdict, placement } = reading;
  const section = element("last");
  section.dataset.result = verdict.result;
  const value = reading.corrected ?? { digits: reading.value, unit: reading.unit };
  write("digits", value.digits.replace("-", "−"));
  write("unit", value.unit);
  write("stored", reading.late ? `${words.STORED} late` : words.STORED);
  element("stored").dataset.stored = "yes";
  element("verdict").replaceChildren(shape(verdict.result), make("span", words.VERDICTS[verdict.result]));
  write("placed", placement.reason
    ? placement.reason.detail
    : [words.plain(placement.characteristic), where(placement)].filter(Boolean).join(" · "));
  const uncertainty = verdict.expanded_uncertainty
    ? `± ${verdict.expanded_uncertainty} ${verdict.unit}, k = ${verdict.coverage_factor}`
    : "not established";
  facts("last-facts", [
    ["Measured", verdict.measured ? `${words.shown(verdict, value)} ${verdict.unit}` : ""],
    ["Limits", verdict.measured ? words.limits(verdict.lower, verdict.upper, verdict.unit) : ""],
    ["Uncertainty", verdict.measured ? uncertainty : ""],
    ["Rule", verdict.rule ?? ""],
    ["Notes", (verdict.notes ?? []).join("; ")],
    ["From", reading.instrument + (reading.simulated ? " (simulated)" : "") + (reading.typed ? " (typed)" : "")],
  ]);
}

export function waiting(state, actions) {
  const holds = (state.next?.waiting ?? []).map((one) => hold(one));
  const strays = state.unplaced ?? [];
  const unplaced = strays.slice(-SHOWN).map((one) => stray(one, state, actions));
  const older = strays.length - unplaced.length + (state.older ?? 0);
  element("holds").replaceChildren(...unplaced, ...holds);
  write("older", older ? words.older(older) : "");
  element("older").hidden = older === 0;
  element("waiting").hidden = holds.length + unplaced.length + older === 0;
}

function hold(one) {
  const item = make("li");
  const place = [words.plain(one.parts.join(" and ")), one.number].filter(Boolean).join(" ");
  const holds = one.holds_up.length ? ` Holds up: ${one.holds_up.map(words.plain).join(", ")}.` : "";
  item.append(
    make("strong", words.VERDICTS[one.result] ?? one.result),
    make("span", `${one.title}, ${place}. To be reworked, measured again, conceded or scrapped.${holds}`),
  );
  return item;
}

function stray(reading, state, actions) {
  const item = make("li");
  const { code, detail } = reading.placement.reason;
  item.append(
    make("strong", `${reading.value} ${reading.unit}`),
    make("span", ` ${reading.instrument}: ${words.plain(code)}. ${detail}`),
  );
  const row = make("span", "", "row");
  const step = state.next?.step;
  if (step && reading.placeable) {
    const place = make("button", "Place on this step", "act quiet");
    place.type = "button";
    place.onclick = () => actions.place(reading, step);
    row.append(place);
  }
  const drop = make("button", "Void", "act quiet");
  drop.type = "button";
  drop.onclick = () => actions.drop(reading);
  row.append(drop);
  item.append(row);
  return item;
}

export function instruments(state) {
  const states = new Map((state.devices ?? []).map((one) => [one.instrument, one]));
  element("instruments").replaceChildren(...(state.instruments ?? []).map((one) => {
    const device = states.get(one.id);
    const word = one.port === "typed" ? "typed in" : words.DEVICES[device?.state] ?? "not opened";
    const item = make("li");
    item.dataset.state = one.port === "typed" ? "ready" : device?.state ?? "closed";
    item.append(make("span", "", "lamp"), make("b", one.id), make("span", word, "word"));
    if (device?.detail && device.state !== "ready") item.append(make("small", device.detail));
    return item;
  }));
}

export function alarm(text) {
  const node = element("alarm");
  write("alarm", text ?? "");
  node.hidden = !text;
}

// Presses are held that are not on disk: the last stored one must not be taken for them.
export function notStored(reading) {
  write("digits", "– – –");
  write("unit", "");
  write("stored", words.NOT_STORED);
  element("stored").dataset.stored = "no";
  element("verdict").replaceChildren();
  write("placed", reading ? words.lastStored(reading) : "");
  facts("last-facts", []);
  element("void").hidden = true;
}

export function line(live) {
  write("line", live ? words.LINE_LIVE : words.LINE_LOST);
  element("line").dataset.live = live ? "yes" : "no";
}
