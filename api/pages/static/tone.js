// Sounding the tones. A browser makes no sound before a tap.

import { EDGE, HARMONICS, pulses } from "./rhythms.js";

const LOUD = 0.5;
// How long a browser may take to start its sound (ms).
const PATIENCE = 3000;

let context = null;
let wanted = false;
let sounding = [];
let told = () => {};

// changed() is called when the browser takes the sound away, or gives it back.
export function open({ changed }) {
  told = changed;
}

export function enabled() {
  return wanted && context?.state === "running";
}

// Begins to sound, and proves it: raises where the browser makes no sound. Called in a tap.
export async function enable() {
  if (!globalThis.AudioContext) throw new Error("unsupported");
  context ??= made();
  wanted = true;
  try {
    await Promise.race([context.resume(), late()]);
    await runs();
  } catch (error) {
    wanted = false;
    throw error;
  }
  play("conforming");
}

export async function disable() {
  wanted = false;
  hush();
  await context?.suspend();
}

// One tone at a time: the newest.
export function play(name) {
  if (!enabled()) return;
  hush();
  sounding = sound(context, name, context.currentTime + 0.02);
}

// Plans a tone on any audio context, from a moment of its clock on (s). Gives what sounds.
export function sound(on, name, from) {
  const wave = on.createPeriodicWave(new Float32Array(HARMONICS.length + 1), new Float32Array([0, ...HARMONICS]));
  return pulses(name).map(({ at, length, pitch }) => {
    const start = from + at;
    const source = new OscillatorNode(on, { periodicWave: wave, frequency: pitch });
    const level = new GainNode(on, { gain: 0 });
    level.gain.setValueAtTime(0, start);
    level.gain.linearRampToValueAtTime(LOUD, start + EDGE);
    level.gain.setValueAtTime(LOUD, start + length - EDGE);
    level.gain.linearRampToValueAtTime(0, start + length);
    source.connect(level).connect(on.destination);
    source.start(start);
    source.stop(start + length);
    return source;
  });
}

function made() {
  const fresh = new AudioContext();
  fresh.onstatechange = () => told();
  return fresh;
}

function hush() {
  for (const one of sounding) one.stop();
  sounding = [];
}

function late() {
  return new Promise((_, fail) => { setTimeout(() => fail(new Error("silent")), PATIENCE); });
}

// Its clock runs only while something takes the sound.
async function runs() {
  const start = performance.now();
  const before = context.currentTime;
  while (context.currentTime === before) {
    if (performance.now() - start > PATIENCE) throw new Error("silent");
    await new Promise((done) => { setTimeout(done, 20); });
  }
}
