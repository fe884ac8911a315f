// Tones, told apart by rhythm: number and spacing of pulses. A triangle wave has the harmonics
// that make a tone easy to place; 500 to 3000 Hz. A browser makes no sound before a tap.

// [pitch in Hz, pulse in s, gap in s, pulses]
const RHYTHMS = {
  conforming: [880, 0.12, 0, 1],
  undecided: [660, 0.3, 0.15, 2],
  nonconforming: [520, 0.12, 0.1, 4],
  not_evaluated: [740, 0.08, 0.3, 2],
  taken: [880, 0.06, 0, 1],
  not_stored: [1200, 0.4, 0.3, 3],
};

let context = null;

export function enabled() {
  return context !== null && context.state === "running";
}

export async function enable() {
  context = context ?? new AudioContext();
  await context.resume();
  play("conforming");
}

export async function disable() {
  await context?.suspend();
}

export function play(name) {
  const rhythm = RHYTHMS[name];
  if (!rhythm || !enabled()) return;
  const [pitch, pulse, gap, count] = rhythm;
  for (let i = 0; i < count; i += 1) {
    const start = context.currentTime + i * (pulse + gap);
    const source = new OscillatorNode(context, { type: "triangle", frequency: pitch });
    const level = new GainNode(context, { gain: 0 });
    level.gain.setValueAtTime(0, start);
    level.gain.linearRampToValueAtTime(0.5, start + 0.01);
    level.gain.setValueAtTime(0.5, start + pulse - 0.02);
    level.gain.linearRampToValueAtTime(0, start + pulse);
    source.connect(level).connect(context.destination);
    source.start(start);
    source.stop(start + pulse);
  }
}
