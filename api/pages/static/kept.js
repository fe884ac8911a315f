// What this browser keeps for one bench. Where it may keep nothing, until the page is closed.

import { now } from "./now.js";

const memory = new Map();

// Another bench behind the same address has its own.
function named(name) {
  return `witnessmark ${now().bench} ${name}`;
}

export function read(name, otherwise) {
  try {
    const text = localStorage.getItem(named(name));
    return text === null ? memory.get(named(name)) ?? otherwise : JSON.parse(text);
  } catch {
    return memory.get(named(name)) ?? otherwise;
  }
}

export function write(name, value) {
  memory.set(named(name), value);
  try {
    localStorage.setItem(named(name), JSON.stringify(value));
  } catch {
    // Private windows and full disks: it is kept until the page is closed.
  }
}
