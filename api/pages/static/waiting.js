// What waits for a person: readings that answer no step, and results that hold the work. The first
// button of each is what is suggested, and has a key.

import { hidden } from "./blind.js";
import { button, element, make, redraw, write } from "./dom.js";
import { propose } from "./fit.js";
import { named, t } from "./labels.js";
import { suggested } from "./mend.js";
import { say } from "./message.js";
import { now } from "./now.js";
import { reason } from "./reasons.js";
import * as service from "./service.js";
import { sorted } from "./sets.js";
import * as settling from "./settle.js";
import { shape } from "./shapes.js";
import { Letters, Place } from "./unmoved.js";
import * as words from "./words.js";

// Readings that wait are listed newest last, this many of them; the others are counted.
const SHOWN = 5;
// Letters and not digits: a gauge whose cable types would press those.
const LETTERS = ["a", "b", "c", "d", "e", "f", "g", "h"];
const letters = new Letters(LETTERS);
// How often it is looked whether a letter has rested (ms).
const SOON = 250;
let resting = null;
// What each row of the list stands for, by its number: a finger aims at a row.
const rows = [];
// Mends that are on their way, or done and still drawn: once is enough, also after a redraw.
const mending = new Set();

export function waiting(state) {
  const step = state.next?.step ?? null;
  const strays = state.unplaced ?? [];
  const unplaced = strays.slice(-SHOWN);
  const older = strays.length - unplaced.length + (state.older ?? 0);
  const kinds = new Map((state.build?.operations ?? []).map((one) => [one.id, one.kind]));
  const { sets, others } = sorted(state.next?.waiting ?? [], kinds, () => waiting(now()));
  const derived = new Map((state.build?.derived ?? []).map((one) => [one.id, one]));
  const drawn = redraw(element("holds"), [unplaced, sets, others, step?.id, state.build?.id], () => [
    ...unplaced.map((one) => stray(one, step)),
    ...sets.map(drifted),
    ...others.map((one) => hold(one, derived)),
  ]);
  if (drawn) keyed();
  settle(state, sets.length + others.length > 0);
  write("older", older ? words.older(older) : "");
  element("older").hidden = older === 0;
  const count = sets.length + others.length + unplaced.length + older;
  write("waiting-label", count > 1 ? t("bench.waiting.count", { count }) : t("bench.waiting.label"));
  element("waiting").hidden = sets.length + others.length + unplaced.length + older === 0;
}

// The first button of each that waits, as far as there are letters.
function keyed() {
  const firsts = [...element("holds").children].map((item) => item.querySelector("button"));
  const names = firsts.map(nameOf);
  const found = letters.of(names);
  // What is without one only because letters rest has one as soon as they have rested.
  clearTimeout(resting);
  if (names.length <= LETTERS.length && found.includes(undefined)) resting = setTimeout(keyed, SOON);
  for (const [at, letter] of found.entries()) {
    if (!letter) continue;
    firsts[at].classList.add("first");
    firsts[at].dataset.press = letter;
    firsts[at].setAttribute("aria-keyshortcuts", letter);
  }
  while (rows.length < names.length) rows.push(new Place());
  for (const [at, row] of rows.entries()) row.holds(names[at] ?? null);
  const mend = mendable();
  first.holds(mend && nameOf(mend));
}

// What a button would do, and to what.
function nameOf(node) {
  return `${node.dataset.key} ${node.textContent}`;
}

// The first that is suggested, for a pedal, which has no letter: its button, also while it is done.
const first = new Place();

function mendable() {
  return document.querySelector('#holds [data-key^="mend "]');
}

// Presses it; why not, or nothing. A mend says itself what came of it.
export function mendFirst() {
  const button = mendable();
  if (!button) return t("hands.pedal.no_mend");
  if (first.justCame()) return t("hands.key.just_came");
  if (button.disabled) return t("hands.pedal.busy");
  button.click();
  return "";
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
  const pieces = one.places.map(words.called);
  return pieces.length > 1 ? t("bench.waiting.and", { first: pieces.slice(0, -1).join(", "), last: pieces.at(-1) }) : pieces.join("");
}

function holdsUp(one) {
  return one.holds_up.length ? ` ${t("bench.waiting.holds_up", { what: one.holds_up.map(words.plain).join(", ") })}` : "";
}

function hold(one, derived) {
  const at = place(one);
  const name = one.subject.slice(0, one.subject.lastIndexOf("/"));
  const buttons = [button(t("bench.waiting.settle"), `settle ${one.subject}`, () => settling.settle(one))];
  if (one.reading === null && derived.get(name)?.quantity === "clearance") {
    buttons.unshift(button(t("bench.waiting.fit"), `fit ${one.subject}`, () => propose(name, one.title)));
  }
  const text = `${one.title}${at ? `, ${at}` : ""}. ${t("bench.waiting.to_be")}${words.why(one)}${holdsUp(one)}`;
  return item(one.result, named("common.verdict", one.result), text, buttons);
}

function drifted(set) {
  const { hold: one, reading, zero, held } = set;
  const moved = zero
    ? t("bench.waiting.moved", { drift: `${zero.drift} ${zero.unit}`, count: zero.readings, uncertainty: `${zero.expanded_uncertainty} ${zero.unit}` })
    : t("bench.waiting.moved_only");
  const marked = held.length ? ` ${t("bench.waiting.marked", { count: held.length })}` : "";
  const again = button(t("bench.waiting.again"), `again ${reading}`, () => settling.again(set));
  const title = t("bench.last.zero_moved");
  // It holds nothing itself: what it marked is listed too, and can be settled one by one.
  if (!one) return item("undecided", title, `${t("bench.waiting.announced", { reading })} ${moved}${marked}`, [again]);
  return item(one.result, title, `${one.title}: ${moved}${marked}${holdsUp(one)}`, [
    again,
    button(t("bench.waiting.otherwise"), `settle ${one.subject}`, () => settling.settle(one)),
  ]);
}

function stray(reading, step) {
  const { code, detail } = reading.placement.reason;
  const blind = hidden(reading, step);
  const mend = suggested(reading, step);
  const buttons = [];
  if (mend) {
    const node = button(mend.text, `mend ${reading.seq}`, (event) => act(node, mend, event.detail > 0));
    node.disabled = mending.has(nameOf(node));
    buttons.push(node);
  }
  if (step && reading.placeable) {
    buttons.push(button(t("bench.waiting.place"), `place ${reading.seq}`, () => settling.place(reading, step)));
  }
  buttons.push(button(t("bench.waiting.void"), `void ${reading.seq}`, () => settling.drop(reading)));
  const text = `${reading.instrument}: ${reason(code)}.${blind ? "" : ` ${detail}`}`;
  return item(null, blind ? t("bench.waiting.hidden") : words.size(reading), text, buttons);
}

// Done at one touch, and said what came of it. Under a finger, unlike a letter, another row may slide.
async function act(node, mend, touched) {
  const name = nameOf(node);
  const row = rows[[...element("holds").children].indexOf(node.closest("li"))];
  if (touched && row?.justCame()) {
    say(t("bench.mend.not_done", { why: t("hands.key.just_came") }), false);
    return;
  }
  mending.add(name);
  node.disabled = true;
  try {
    say(await mend.does());
  } catch (error) {
    mending.delete(name);
    // It may have been drawn anew meanwhile.
    for (const one of document.querySelectorAll("#holds button")) if (nameOf(one) === name) one.disabled = false;
    say(t("bench.mend.not_done", { why: service.plainly(error) }), false);
  }
}
