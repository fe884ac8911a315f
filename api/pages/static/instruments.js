// The instruments of the bench: their connections, and what is known of each.

import { button, element, make, redraw, write } from "./dom.js";
import { hidden } from "./blind.js";
import { open, speaksOf } from "./gauge.js";
import { assigned } from "./keyboard.js";
import { t } from "./labels.js";
import { tools } from "./next.js";
import { now } from "./now.js";
import { lamp, tick } from "./stale.js";
import * as words from "./words.js";

export function instruments(state) {
  const states = new Map((state.devices ?? []).map((one) => [one.instrument, one]));
  const latest = new Map((state.latest ?? []).map((one) => [one.instrument, one]));
  const { last } = state;
  // The stream brings a reading before the whole state does.
  if (last && last.seq > (latest.get(last.instrument)?.seq ?? 0)) latest.set(last.instrument, last);
  const step = state.next?.step ?? null;
  const list = (state.instruments ?? []).map((one) => [one, states.get(one.id) ?? null, shownOf(latest.get(one.id), step)]);
  const types = assigned();
  redraw(element("instruments"), [list, types], () => list.map((one) => item(...one)));
  alive(list);
  tools(step, state);
  tick();
}

// What a tile says of a reading: its size may not be shown in a blind study.
function shownOf(reading, step) {
  if (!reading) return null;
  return { at: reading.received_at, size: hidden(reading, step) ? t("bench.waiting.hidden") : words.size(reading) };
}

// In one line, which are alive: from further away than the tiles are read.
function alive(list) {
  const wired = list.filter(([one]) => one.port !== "typed");
  const well = wired.filter(([, told]) => ["ready", "lagging"].includes(told?.state));
  const trouble = wired.filter(([, told]) => !["ready", "lagging"].includes(told?.state));
  write("alive-well", wired.length ? t("bench.instrument.alive", { count: well.length, total: wired.length }) : "");
  write("alive-not", trouble.slice(0, 3).map(([one, told]) => `${one.id} ${words.device(told)}`).join(" · ")
    + (trouble.length > 3 ? ` · ${t("bench.instrument.more", { count: trouble.length - 3 })}` : ""));
  element("alive").dataset.well = trouble.length ? "no" : "yes";
  element("alive").hidden = wired.length === 0;
}

function item(one, told, shown) {
  const node = make("li");
  const typed = one.port === "typed";
  node.dataset.state = typed ? "ready" : told?.state ?? "closed";
  const words_ = make("span", "", "about");
  const line = make("span", "", "name");
  line.append(
    lamp(), make("b", one.id), " ",
    make("span", typed ? t("bench.instrument.by_hand") : words.device(told), "word"),
  );
  words_.append(line);
  if (shown) words_.append(reading(one, shown));
  if (told?.detail && told.state !== "ready") words_.append(make("small", told.detail));
  if (told?.low_battery) words_.append(make("small", words.lowBattery(told), "mark"));
  words_.append(...words.about(one).map((text) => make("small", text)));
  if (one.set && !one.set.closed) words_.append(make("small", words.openSet(one), "mark"));
  if (assigned() === one.id) words_.append(make("small", t("bench.instrument.types"), "mark"));
  if (one.zero_due) words_.append(make("small", t("bench.instrument.zero_due"), "mark"));
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

// Its latest reading, and how old that is.
function reading(one, { at, size }) {
  const node = make("span", "", "read-last");
  Object.assign(node.dataset, { of: one.id, received: at });
  node.append(make("b", size), " ", make("span", "", "age"));
  return node;
}
