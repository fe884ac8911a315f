// The tones as pulses. They are told apart by rhythm, the number and spacing of pulses: machines hum
// and ears differ, so pitch says nothing. None is continuous or longer than 2.5 s. The pitch and the
// harmonics that make a tone easy to place lie between 500 and 3000 Hz.

// The strength of the pitch itself, of its double and its threefold.
export const HARMONICS = [1, 0.6, 0.4];
// How long a pulse takes to swell and to fade (s): a tone that begins at once clicks.
export const EDGE = 0.01;

// Pitch in Hz, the length of each pulse and when each begins in s.
const RHYTHMS = {
  conforming: { pitch: 880, length: 0.12, at: [0] },
  // Of a study, or a preload: it is taken, and that is all.
  taken: { pitch: 880, length: 0.06, at: [0, 0.13] },
  not_evaluated: { pitch: 740, length: 0.1, at: [0, 0.55] },
  undecided: { pitch: 660, length: 0.2, at: [0, 0.4, 0.8] },
  nonconforming: { pitch: 520, length: 0.09, at: [0, 0.18, 0.36, 0.54, 0.72] },
  not_stored: { pitch: 1000, length: 0.3, at: [0, 0.6, 1.2, 1.8] },
  lost: { pitch: 940, length: 0.12, at: [0, 0.22, 0.9, 1.12] },
};

export function names() {
  return Object.keys(RHYTHMS);
}

// [{ at, length, pitch }]; empty where there is no such tone.
export function pulses(name) {
  const rhythm = RHYTHMS[name];
  return rhythm ? rhythm.at.map((at) => ({ at, length: rhythm.length, pitch: rhythm.pitch })) : [];
}
