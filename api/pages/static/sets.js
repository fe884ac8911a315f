// The sets of readings that a zero check found drifted: which held results belong to them.

import * as service from "./service.js";

const known = new Map();

// Holds sorted into [{ hold, zero, held: [hold…] }] for each drifted zero, and the others. What a
// zero check found is asked for once; `heard` is called when it has come.
export function sorted(holds, kinds, heard) {
  const zeros = holds.filter((one) => one.operations.some((name) => kinds.get(name) === "zero"));
  const sets = zeros.map((hold) => ({ hold, zero: found(hold.reading, heard), held: [] }));
  const rest = holds.filter((one) => !zeros.includes(one));
  for (const set of sets) {
    const presses = new Set(set.zero?.presses);
    set.held = rest.filter((one) => presses.has(one.reading));
    // What is derived from marked readings is held with them.
    set.held.push(...rest.filter((one) => one.reading === null && set.held.some((other) => near(one, other))));
  }
  return { sets, others: rest.filter((one) => !sets.some((set) => set.held.includes(one))) };
}

function near(one, other) {
  return one.number === other.number && one.operations.some((name) => other.operations.includes(name));
}

function found(seq, heard) {
  if (!known.has(seq)) {
    known.set(seq, null);
    service.get(`/v1/readings/${seq}`).then(
      (reading) => { known.set(seq, reading.zero ?? null); heard(); },
      () => known.delete(seq),
    );
  }
  return known.get(seq);
}
