// The line that says what came of something done without looking: a pedal, a key. Also by voice.

import { element, write } from "./dom.js";
import { clock } from "./now.js";
import * as speech from "./speech.js";
import { hour } from "./words.js";

export function say(text, good = true) {
  const time = hour(new Date(clock()).toISOString());
  element("message").dataset.good = good ? "yes" : "no";
  write("message", `${time} ${text}`);
  speech.say("told", [text]);
}
