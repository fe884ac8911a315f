// What waits for a person: readings that answer no step, and results that hold the work.

import { hidden } from "./blind.js";
import { button, element, make, redraw, write } from "./dom.js";
import { propose } from "./fit.js";
import { now } from "./now.js";
import { reason } from "./reasons.js";
import { sorted } from "./sets.js";
import * as settling from "./settle.js";
import { shape } from "./shapes.js";
import * as words from "./words.js";

// Readings that wait are listed newest last, this many of them; the others are counted.
const SHOWN = 5;

export function waiting(state) {
  const step = state.next?.step ?? null;
  const strays = state.unplaced ?? [];
  const unplaced = strays.slice(-SHOWN);
  const older = strays.length - unplaced.length + (state.older ?? 0);
  const kinds = new Map((state.build?.operations ?? []).map((one) => [one.id, one.kind]));
  const { sets, others } = sorted(state.next?.waiting ?? [], kinds, () => waiting(now()));
  const derived = new Map((state.build?.derived ?? []).map((one) => [one.id, one]));
  redraw(element("holds"), [unplaced, sets, others, step?.id, state.build?.id], () => [
    ...unplaced.map((one) => stray(one, step)),
    ...sets.map(drifted),
    ...others.map((one) => hold(one, derived)),
  ]);
  settle(state, sets.length + others.length > 0);
  write("older", older ? words.older(older) : "");
  element("older").hidden = older === 0;
  element("waiting").hidden = sets.length + others.length + unplaced.length + older === 0;
}

// Where nothing else is to be done it stands where the next step would.
function settle(state, held) {
  const home = element(held && !state.next?.step ? "next" : "below");
  const section = element("waiting");
  if (section.parentElement !== home) home.append(section);
}

function item(result, title, text, buttons) {
  const node = make("li");
  if (result) {
    node.dataset.result = result;
    node.append(shape(result));
  }
  const said = make("p");
  said.append(make("strong", title), ` ${text}`);
  const row = make("span", "", "row");
  row.append(...buttons);
  node.append(said, row);
  return node;
}

// The pieces it rests on: of a clearance they need not bear one number.
function place(one) {
  return one.places.map(words.called).join(" and ");
}

function holdsUp(one) {
  return one.holds_up.length ? ` Holds up: ${one.holds_up.map(words.plain).join(", ")}.` : "";
}

function hold(one, derived) {
  const at = place(one);
  const name = one.subject.slice(0, one.subject.lastIndexOf("/"));
  const buttons = [button("Settle", `settle ${one.subject}`, () => settling.settle(one))];
  if (one.reading === null && derived.get(name)?.quantity === "clearance") {
    buttons.unshift(button("Propose a fit", `fit ${one.subject}`, () => propose(name, one.title)));
  }
  const text = `${one.title}${at ? `, ${at}` : ""}. To be reworked, measured again, conceded or scrapped.${words.why(one)}${holdsUp(one)}`;
  return item(one.result, words.VERDICTS[one.result] ?? one.result, text, buttons);
}

function drifted(set) {
  const { hold: one, reading, zero, held } = set;
  const moved = zero
    ? `its zero moved by ${zero.drift} ${zero.unit} over ${words.count(zero.readings, "reading")}, beyond U = ${zero.expanded_uncertainty} ${zero.unit}.`
    : "its zero moved.";
  const marked = held.length ? ` ${words.count(held.length, "result")} marked by it ${held.length === 1 ? "is" : "are"} undecided until then.` : "";
  const again = button("Measure the set again", `again ${reading}`, () => settling.again(set));
  // It holds nothing itself: what it marked is listed too, and can be settled one by one.
  if (!one) return item("undecided", "Zero has moved", `Announced zero check (reading ${reading}): ${moved}${marked}`, [again]);
  return item(one.result, "Zero has moved", `${one.title}: ${moved}${marked}${holdsUp(one)}`, [
    again,
    button("Settle otherwise", `settle ${one.subject}`, () => settling.settle(one)),
  ]);
}

function stray(reading, step) {
  const { code, detail } = reading.placement.reason;
  const blind = hidden(reading, step);
  const buttons = [];
  if (step && reading.placeable) {
    buttons.push(button("Place on this step", `place ${reading.seq}`, () => settling.place(reading, step)));
  }
  buttons.push(button("Void", `void ${reading.seq}`, () => settling.drop(reading)));
  const text = `${reading.instrument}: ${reason(code)}.${blind ? "" : ` ${detail}`}`;
  return item(null, blind ? "Hidden" : words.size(reading), text, buttons);
}
