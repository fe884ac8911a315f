// What a person decides: that a result is settled so or so, that a reading does not count or answers
// a step. Always with a reason.

import { ask, flow } from "./dialog.js";
import { hidden } from "./blind.js";
import { now } from "./now.js";
import * as service from "./service.js";
import * as words from "./words.js";

const REASON = { name: "reason", label: "Reason" };

function named(reading) {
  const size = hidden(reading, now().next?.step) ? "The reading" : words.size(reading);
  return `${size} from ${reading.instrument}`;
}

export function drop(reading) {
  return flow(() => ask({
    label: "Void this reading",
    what: `${named(reading)} will not count. It stays stored.`,
    fields: [REASON],
    act: ({ reason }) => service.post(`/v1/readings/${reading.seq}/voids`, { reason }),
  }));
}

export function place(reading, step) {
  const { build } = now();
  return flow(() => ask({
    label: "Place this reading",
    what: `${named(reading)} on: ${step.title} (${step.id})`,
    fields: [REASON],
    act: ({ reason }) => service.post(`/v1/readings/${reading.seq}/placements`, { build: build.id, step: step.id, reason }),
  }));
}

// The set that a zero check closed and found drifted: named by its step, or by its own reading.
export function again({ hold, reading, zero }) {
  const { build } = now();
  return flow(() => ask({
    label: "Measure the set again",
    what: "Its readings and both zero checks open again as a new pass; what was measured stays stored. Set the gauge on its standard anew before you begin.",
    fields: [{ ...REASON, value: zero ? `The zero moved by ${zero.drift} ${zero.unit}.` : "" }],
    act: ({ reason }) => service.post(`/v1/builds/${build.id}/sets`, { ...(hold ? { step: hold.subject } : { reading }), reason }),
  }));
}

export function settle(hold) {
  const { build } = now();
  const base = `/v1/builds/${build.id}`;
  const ways = waysOf(hold, base);
  return flow(() => ask({
    label: "Settle this result",
    what: `${hold.title}: ${(words.VERDICTS[hold.result] ?? hold.result).toLowerCase()}.${words.why(hold)}`,
    fields: [
      { name: "way", label: "What is to be done", kind: "tiles", wide: true, options: ways.map(([text], at) => [String(at), text]) },
      REASON,
    ],
    act: ({ way, reason }) => {
      const [, path, body] = ways[Number(way)];
      return service.post(path, { ...body, reason });
    },
  }));
}

// [in words, path, body without the reason]
function waysOf(hold, base) {
  const called = words.called;
  return [
    ...(hold.reading ? [["Measure again: the reading was wrong and will not count", `/v1/readings/${hold.reading}/voids`, {}]] : []),
    ...hold.places.map((one) => [`Rework ${called(one)}, then measure it again`, `${base}/reworks`, { part: one.part, number: one.number }]),
    ["Concede: accept it as it is", `${base}/concessions`, { subject: hold.subject }],
    ...hold.places.map((one) => [`Scrap ${called(one)}: another piece takes its place`, `${base}/scraps`, { part: one.part, number: one.number }]),
  ];
}
