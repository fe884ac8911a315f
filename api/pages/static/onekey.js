// Single keys for all that is done at the bench. They work while no field is filled in and no
// question is open, and only for a person: what types at a machine's speed presses none of them
// (keyboard.js). Each presses a button of the page, so a key and a touch are the same.
//
// A button that is made anew for what waits bears its key itself: data-press.

import { element, make } from "./dom.js";
import { read, write } from "./kept.js";
import { named, t } from "./labels.js";
import * as speech from "./speech.js";
import { say } from "./message.js";

// Key, what it does by name, the button that it presses. No digits: gauges type those.
const KEYS = [
  ["s", "begin", '#begin, #prove, #shift [data-is="missing"]'],
  ["y", "confirm", "#confirm"],
  ["t", "type", "#type, #bracket"],
  ["n", "bracket", "#bracket"],
  ["v", "void", "#void"],
  ["m", "move", "#move"],
  ["w", "why", "#why"],
  ["p", "place", '#holds [data-key^="place "]'],
  ["o", "choose", "#choose"],
  ["r", "again", again],
  ["u", "who", "#who"],
  ["i", "instrument", "#instruments button"],
  ["l", "look", "#look"],
  ["k", "keys", panel],
];

// Those of what waits.
const WAITING = /^[a-h]$/u;

export function open() {
  const shown = KEYS.flatMap(([key, name]) => row(key, named("hands.key", name)));
  element("onekeys").replaceChildren(...shown, ...row("a … h", t("hands.key.waiting")));
  const box = element("onekey");
  box.checked = enabled();
  box.onchange = () => write("single keys", box.checked);
  // On paper a list that is folded up is of no use.
  addEventListener("beforeprint", () => { element("keys-panel").open = true; });
}

export function enabled() {
  return read("single keys", true);
}

// A key of a person, outside of any field. False: it is none of these.
export function press(key) {
  const letter = key.toLowerCase();
  if (!enabled() || !/^[a-z]$/u.test(letter) || document.querySelector("dialog[open]")) return false;
  if (click(`[data-press="${letter}"]`)) return true;
  if (WAITING.test(letter)) {
    say(t("hands.key.gone", { key: letter.toUpperCase() }), false);
    return true;
  }
  const found = KEYS.find(([one]) => one === letter);
  if (!found) return false;
  const [, name, what] = found;
  if (typeof what === "function") what();
  else if (!click(what)) say(t("hands.key.nothing", { key: letter.toUpperCase(), what: named("hands.key", name) }), false);
  return true;
}

function click(selector) {
  const button = [...document.querySelectorAll(selector)].find((one) => one.checkVisibility() && !one.disabled);
  if (!button) return false;
  button.focus();
  button.click();
  return true;
}

function again() {
  if (!speech.again()) say(t("hands.key.no_voice"), false);
}

function panel() {
  const node = element("keys-panel");
  node.open = !node.open;
  if (!node.open) {
    scrollTo({ top: 0 });
    return;
  }
  node.scrollIntoView({ block: "nearest" });
  node.querySelector("summary").focus();
}

function row(key, what) {
  const cap = make("dt");
  cap.append(make("kbd", key.toUpperCase()));
  return [cap, make("dd", what)];
}
