// The instruments of the bench: their connections, and what is known of each.

import { button, element, make, redraw } from "./dom.js";
import { open, speaksOf } from "./gauge.js";
import { assigned } from "./keyboard.js";
import { now } from "./now.js";
import * as words from "./words.js";

export function instruments(state) {
  const states = new Map((state.devices ?? []).map((one) => [one.instrument, one]));
  const list = (state.instruments ?? []).map((one) => [one, states.get(one.id) ?? null]);
  const types = assigned();
  redraw(element("instruments"), [list, types], () => list.map(([one, device]) => item(one, device)));
}

function item(one, device) {
  const node = make("li");
  const typed = one.port === "typed";
  node.dataset.state = typed ? "ready" : device?.state ?? "closed";
  const words_ = make("span", "", "about");
  const line = make("span", "", "name");
  line.append(
    make("span", "", "lamp"), make("b", one.id), " ",
    make("span", typed ? "typed in" : words.device(device), "word"),
  );
  words_.append(line);
  if (device?.detail && device.state !== "ready") words_.append(make("small", device.detail));
  if (device?.low_battery) words_.append(make("small", words.lowBattery(device), "mark"));
  words_.append(...words.about(one).map((text) => make("small", text)));
  if (one.set && !one.set.closed) words_.append(make("small", words.openSet(one), "mark"));
  if (assigned() === one.id) words_.append(make("small", "Types into this page", "mark"));
  if (one.zero_due) words_.append(make("small", "Its next press is its zero check", "mark"));
  if (!speaksOf(one)) {
    words_.classList.add("plain");
    node.append(words_);
    return node;
  }
  const tile = button("", `instrument ${one.id}`, () => open(now().instruments.find((other) => other.id === one.id) ?? one), "instrument");
  tile.append(words_);
  node.append(tile);
  return node;
}
