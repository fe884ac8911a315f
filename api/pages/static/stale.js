// How old a reading is, and when it must no longer be taken for what a gauge shows now: its
// connection is silent, lost or faulted, or the service is not heard. The age goes on by itself.

import { element, make, write } from "./dom.js";
import { language, t } from "./labels.js";
import { clock, line, now } from "./now.js";

const GONE = ["silent", "lost", "faulted", "closed"];
const STEPS = [["day", 86400], ["hour", 3600], ["minute", 60], ["second", 1]];
const told = new Intl.RelativeTimeFormat(language, { numeric: "always" });

// The lamp of a connection: a filled circle when ready, a struck square when not.
export function lamp() {
  return make("span", "", "lamp");
}

// "12 seconds ago", of an RFC 3339 moment. By fives under a minute: a page that ticks is not read.
export function age(moment) {
  const seconds = Math.max(0, Math.floor((clock() - Date.parse(moment)) / 1000));
  const [unit, length] = STEPS.find(([, one]) => seconds >= one) ?? STEPS.at(-1);
  const count = Math.floor(seconds / length);
  if (unit !== "second") return told.format(-count, unit);
  return count < 5 ? t("bench.stale.now") : told.format(-(count - (count % 5)), unit);
}

// Why a reading of this instrument is stale: a sentence; "" while it is not.
export function stale(instrument) {
  if (!line()) return t("bench.stale.unheard");
  const { instruments, devices } = now();
  const one = (instruments ?? []).find((other) => other.id === instrument);
  if (!one || one.port === "typed") return "";
  const state = (devices ?? []).find((device) => device.instrument === instrument)?.state ?? "closed";
  return GONE.includes(state) ? t("bench.stale.gone", { instrument }) : "";
}

// Marks a node that shows a reading; its age goes into `words`.
export function mark(node, words, instrument, moment) {
  const why = stale(instrument);
  const text = why ? t("bench.stale.stale", { age: age(moment) }) : age(moment);
  if (words.textContent !== text) words.textContent = text;
  node.dataset.stale = why ? "yes" : "no";
}

// What is shown of the last press, now.
export function lastAge() {
  const { last } = now();
  const why = last ? stale(last.instrument) : "";
  if (last) mark(element("last"), element("age"), last.instrument, last.received_at);
  else {
    write("age", "");
    delete element("last").dataset.stale;
  }
  write("stale", why);
}

export function tick() {
  lastAge();
  for (const node of document.querySelectorAll("#instruments [data-received]")) {
    mark(node.closest("li"), node.querySelector(".age"), node.dataset.of, node.dataset.received);
  }
}

setInterval(() => { if (now()) tick(); }, 1000);
