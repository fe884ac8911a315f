// The tones, to be learnt: what each means, its rhythm drawn as it sounds, and a touch to hear it.

import { button, element, make } from "./dom.js";
import { named, t } from "./labels.js";
import { say } from "./message.js";
import { names, pulses } from "./rhythms.js";
import * as tone from "./tone.js";

const SVG = "http://www.w3.org/2000/svg";
// Of a drawing: px for each second, and its height.
const SECOND = 100;
const HIGH = 20;

export function open() {
  element("tones").replaceChildren(...names().map(row));
}

function row(name) {
  const node = make("li");
  const hear = button("", `hear ${name}`, () => sound(name));
  hear.append(make("span", named("hands.tone", name)), drawn(name));
  node.append(hear);
  return node;
}

function sound(name) {
  if (tone.enabled()) tone.play(name);
  else say(t("hands.tone.silent"), false);
}

function drawn(name) {
  const svg = document.createElementNS(SVG, "svg");
  const beats = pulses(name);
  const { at, length } = beats.at(-1);
  const width = Math.round((at + length) * SECOND);
  for (const [key, value] of [["width", width], ["height", HIGH], ["aria-hidden", "true"]]) svg.setAttribute(key, value);
  svg.append(...beats.map(beat));
  return svg;
}

function beat({ at, length }) {
  const rect = document.createElementNS(SVG, "rect");
  const numbers = { x: at * SECOND, y: 0, width: length * SECOND, height: HIGH };
  for (const [key, value] of Object.entries(numbers)) rect.setAttribute(key, value);
  rect.setAttribute("class", "ground");
  return rect;
}
