// Readings on their way to the service. Each is kept in this browser, under the key that it is sent
// with, until the service has answered for it: a lost line, or a page that is closed, neither loses
// nor doubles it. They go one by one, in the order they came.

import { read, write } from "./kept.js";
import * as service from "./service.js";

const PATIENCE = 20000;
// Between tries (ms); the last one goes on.
const PAUSES = [500, 1000, 2000, 4000, 8000];
// Answers below 500 that say nothing of the reading: it is tried again.
const PASSING = [401, 403, 408, 425, 429];

let busy = false;
let failed = 0;
let timer = 0;
let told = { changed() {}, refused() {} };

// changed() is called when what waits has changed; refused(item, why) when the service takes it not.
export function open(listener) {
  told = listener;
  send();
}

// The readings that could not be sent yet, and why the last try failed.
export function waiting() {
  return failed ? read("outbox", []) : [];
}

export function add(reading) {
  write("outbox", [...read("outbox", []), { key: service.freshKey(), reading }]);
  return send();
}

// Sends what waits, now.
export async function send() {
  if (busy) return;
  busy = true;
  clearTimeout(timer);
  try {
    for (;;) {
      const [first] = read("outbox", []);
      if (!first) break;
      await settled(first);
      remove(first);
      failed = 0;
    }
  } catch {
    timer = setTimeout(send, PAUSES[Math.min(failed, PAUSES.length - 1)]);
    failed += 1;
  } finally {
    busy = false;
    told.changed();
  }
}

// Returns once the service has stored it or will never take it.
async function settled({ key, reading }) {
  try {
    await service.post("/v1/readings", reading, { key, patience: PATIENCE });
  } catch (error) {
    const final = error.status >= 400 && error.status < 500 && !PASSING.includes(error.status);
    if (!final) throw error;
    told.refused(reading, error.message);
  }
}

// Another tab may have added to it meanwhile.
function remove(item) {
  write("outbox", read("outbox", []).filter((one) => one.key !== item.key));
}
