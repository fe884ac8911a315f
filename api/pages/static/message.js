// The line that says what came of something done without looking: a pedal, a key. Also by voice.

import { element, write } from "./dom.js";
import { language } from "./labels.js";
import * as speech from "./speech.js";

export function say(text, good = true) {
  const time = new Date().toLocaleTimeString(language, { hour: "2-digit", minute: "2-digit", second: "2-digit" });
  element("message").dataset.good = good ? "yes" : "no";
  write("message", `${time} ${text}`);
  speech.say("told", [text]);
}
