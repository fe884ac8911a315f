// The line that says what came of something done without looking: a pedal, a key.

import { element, write } from "./dom.js";

export function say(text, good = true) {
  const time = new Date().toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", second: "2-digit" });
  element("message").dataset.good = good ? "yes" : "no";
  write("message", `${time} ${text}`);
}
