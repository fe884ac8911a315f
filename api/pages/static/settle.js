// What a person decides: that a result is settled so or so, that a reading does not count or answers
// a step. Always with a reason; the usual ones are at hand.

import { ask, flow } from "./dialog.js";
import { hidden } from "./blind.js";
import { named as word, t } from "./labels.js";
import { read } from "./kept.js";
import { now } from "./now.js";
import * as service from "./service.js";
import * as words from "./words.js";

export const reason = () => ({ name: "reason", label: t("bench.settle.reason") });

// Why a reading does not count; null: one that is not at hand. Who types a reading in presses no SEND,
// unless it is a cable that types.
const forVoid = (reading) => {
  const byHand = reading?.typed && read("types", null) !== reading.instrument;
  return [
    ...(byHand ? [t("bench.settle.why.mistyped")] : []),
    t("bench.settle.why.slipped"),
    t("bench.settle.why.wrong_place"),
    t("bench.settle.why.not_rocked"),
    ...(reading && !byHand ? [t("bench.settle.why.twice")] : []),
    t("bench.settle.why.dirty"),
    t("bench.settle.why.wrong_instrument"),
  ];
};
const forPlace = () => [t("bench.settle.why.belongs"), t("bench.settle.why.out_of_turn")];
// And why a result is settled in this way: each has its own.
const FOR_WAY = {
  voids: (reading) => [t("bench.settle.why.again"), ...forVoid(reading)],
  reworks: () => [t("bench.settle.why.worked")],
  concessions: () => [t("bench.settle.why.agreed"), t("bench.settle.why.harmless")],
  scraps: () => [t("bench.settle.why.damaged"), t("bench.settle.why.beyond")],
};

export function named(reading) {
  const { instrument } = reading;
  return hidden(reading, now().next?.step)
    ? t("bench.settle.reading_from", { instrument })
    : t("bench.settle.size_from", { size: words.size(reading), instrument });
}

export function drop(reading) {
  return flow(() => ask({
    label: t("bench.settle.void"),
    what: t("bench.settle.void_what", { reading: named(reading) }),
    fields: [reason()],
    ready: forVoid(reading),
    act: (said) => service.post(`/v1/readings/${reading.seq}/voids`, { reason: said.reason }),
  }));
}

export function place(reading, step) {
  const { build } = now();
  return flow(() => ask({
    label: t("bench.settle.place"),
    what: t("bench.settle.place_what", { reading: named(reading), title: step.title, step: step.id }),
    fields: [reason()],
    ready: forPlace(),
    act: (said) => service.post(`/v1/readings/${reading.seq}/placements`, { build: build.id, step: step.id, reason: said.reason }),
  }));
}

// The set that a zero check closed and found drifted: named by its step, or by its own reading.
export function again({ hold, reading, zero }) {
  const { build } = now();
  return flow(() => ask({
    label: t("bench.settle.again"),
    what: t("bench.settle.again_what"),
    fields: [{ ...reason(), value: zero ? t("bench.settle.moved", { drift: `${zero.drift} ${zero.unit}` }) : "" }],
    act: (said) => service.post(`/v1/builds/${build.id}/sets`, { ...(hold ? { step: hold.subject } : { reading }), reason: said.reason }),
  }));
}

export function settle(hold) {
  const { build } = now();
  const base = `/v1/builds/${build.id}`;
  const ways = waysOf(hold, base);
  const reading = now().last?.seq === hold.reading ? now().last : null;
  return flow(() => ask({
    label: t("bench.settle.result"),
    what: t("bench.settle.result_what", { title: hold.title, result: word("bench.settle.word", hold.result), why: words.why(hold) }),
    fields: [
      { name: "way", label: t("bench.settle.way"), kind: "tiles", wide: true, options: ways.map(([text], at) => [String(at), text]) },
      reason(),
    ],
    ready: { by: "way", reasons: (way) => FOR_WAY[ways[Number(way)][1].split("/").at(-1)](reading) },
    act: ({ way, reason: because }) => {
      const [, path, body] = ways[Number(way)];
      return service.post(path, { ...body, reason: because });
    },
  }));
}

// [in words, path, body without the reason]
function waysOf(hold, base) {
  const called = words.called;
  return [
    ...(hold.reading ? [[t("bench.settle.measure_again"), `/v1/readings/${hold.reading}/voids`, {}]] : []),
    ...hold.places.map((one) => [t("bench.settle.rework", { piece: called(one) }), `${base}/reworks`, { part: one.part, number: one.number }]),
    [t("bench.settle.concede"), `${base}/concessions`, { subject: hold.subject }],
    ...hold.places.map((one) => [t("bench.settle.scrap", { piece: called(one) }), `${base}/scraps`, { part: one.part, number: one.number }]),
  ];
}
