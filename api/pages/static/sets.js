// The sets of readings that a zero check found drifted: which held results belong to them. A zero
// check may answer a step, which then is held itself, or have been announced: then only the results
// that it marked are held, and name it.

import * as service from "./service.js";

const known = new Map();

// Holds sorted into [{ hold, reading, zero, held: [hold…] }] for each drifted zero, and the others;
// `hold` is null where the zero check answers no step. What a reading says is asked for once; `heard`
// is called when it has come.
export function sorted(holds, kinds, heard) {
  const zeros = holds.filter((one) => one.operations.some((name) => kinds.get(name) === "zero"));
  const rest = holds.filter((one) => !zeros.includes(one));
  const sets = zeros.map((hold) => ({ hold, reading: hold.reading, zero: found(hold.reading, heard)?.zero, held: [] }));
  for (const set of sets) {
    const presses = new Set(set.zero?.presses);
    set.held = rest.filter((one) => presses.has(one.reading));
  }
  for (const set of sets) {
    // What is derived from marked readings is held with them.
    set.held.push(...rest.filter((one) => one.reading === null && set.held.some((other) => near(one, other))));
  }
  const others = rest.filter((one) => !sets.some((set) => set.held.includes(one)));
  return { sets: [...sets, ...announced(others, heard)], others };
}

// The zero checks that hold nothing themselves, by the results that name them. Those results stay
// among the others, to be settled one by one as well.
function announced(holds, heard) {
  const sets = new Map();
  for (const hold of holds) {
    const reading = hold.drift && hold.reading !== null ? found(hold.reading, heard)?.drift?.zero : null;
    if (!reading) continue;
    if (!sets.has(reading)) sets.set(reading, { hold: null, reading, zero: found(reading, heard)?.zero, held: [] });
    sets.get(reading).held.push(hold);
  }
  return [...sets.values()];
}

function near(one, other) {
  return one.number === other.number && one.operations.some((name) => other.operations.includes(name));
}

// What is known of a reading: { zero, drift }; null until it has come.
function found(seq, heard) {
  if (!known.has(seq)) {
    known.set(seq, null);
    service.get(`/v1/readings/${seq}`).then(
      ({ zero, drift }) => { known.set(seq, { zero: zero ?? null, drift: drift ?? null }); heard(); },
      () => known.delete(seq),
    );
  }
  return known.get(seq);
}
