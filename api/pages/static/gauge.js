// What a person says of an instrument: that it lies on its standard, what it was set on, which
// extension is on it, how warm it is.

import { ask, flow } from "./dialog.js";
import { t } from "./labels.js";
import * as keyboard from "./keyboard.js";
import { mayType, silent, types } from "./keyed.js";
import { now } from "./now.js";
import * as service from "./service.js";
import * as words from "./words.js";

const TOOLS = ["torque-wrench", "click-wrench"];
const LENGTHS = ["mm", "µm", "in", "thou"];

// Whether there is anything to say of it.
export function speaksOf(one) {
  return acts(one).length > 0;
}

export function open(one) {
  return flow(async () => {
    const said = await ask({ label: one.id, what: words.about(one).join(" · "), choices: acts(one) });
    if (said) await ACTS[said.chosen](one);
  });
}

function acts(one) {
  return [
    ...((now().askable ?? []).includes(one.id) ? [["ask", t("bench.gauge.ask")]] : []),
    ...(one.comparative && one.setting && !one.zero_due ? [["zero", t("bench.gauge.zero")]] : []),
    ...(one.comparative ? [["set", t("bench.gauge.set")]] : []),
    ...(TOOLS.includes(one.kind) ? [["extend", one.extension ? t("bench.gauge.extend_other") : t("bench.gauge.extend")]] : []),
    ...(one.extension ? [["bare", t("bench.gauge.bare")]] : []),
    ...(mayType(one) && keyboard.assigned() !== one.id ? [["types", t("bench.gauge.types")]] : []),
    ...(keyboard.assigned() === one.id ? [["silent", t("bench.gauge.silent")]] : []),
    ...(LENGTHS.includes(one.unit) ? [["warm", one.comparative ? t("bench.gauge.warm_both") : t("bench.gauge.warm")]] : []),
  ];
}

const ACTS = {
  types,
  silent,
  ask: (one) => ask({
    label: t("bench.gauge.ask_label", { instrument: one.id }),
    what: t("bench.gauge.ask_what"),
    done: t("bench.gauge.ask_do"),
    act: () => service.post(`/v1/instruments/${one.id}/ask`, {}),
  }),
  zero: (one) => ask({
    label: t("bench.gauge.zero_label", { instrument: one.id }),
    what: t("bench.gauge.zero_what", { standard: one.setting.standard, size: `${one.setting.size} ${one.setting.unit}` }),
    done: t("bench.gauge.zero_do"),
    act: () => service.post("/v1/zeros", { instrument: one.id }),
  }),
  set: (one) => ask({
    label: t("bench.gauge.set_label", { instrument: one.id }),
    what: t("bench.gauge.set_what"),
    fields: [
      { name: "standard", label: t("bench.gauge.standard"), value: one.setting?.standard },
      { name: "size", label: t("bench.gauge.size"), kind: "number", value: one.setting?.size },
      { name: "unit", label: t("bench.gauge.unit"), value: one.setting?.unit ?? one.unit },
      { name: "from_instrument", label: t("bench.gauge.from"), kind: "tiles", value: "", options: [["", t("bench.gauge.from_none")], ...sized(one)] },
      { name: "expanded_uncertainty", label: t("bench.gauge.uncertainty"), kind: "number", optional: true, value: one.setting?.expanded_uncertainty ?? "", hint: t("bench.gauge.uncertainty_hint") },
      { name: "coverage_factor", label: t("bench.gauge.coverage"), kind: "number", optional: true, value: one.setting?.coverage_factor ?? "" },
    ],
    act: ({ from_instrument: from, ...said }) => service.post("/v1/settings", { instrument: one.id, ...said, ...(from ? { from_instrument: from } : {}) }),
  }),
  extend: (one) => ask({
    label: t("bench.gauge.extend_label", { instrument: one.id }),
    what: t("bench.gauge.extend_what"),
    fields: [
      { name: "tool_length", label: t("bench.gauge.tool_length"), kind: "number", value: one.extension?.tool_length },
      { name: "length", label: t("bench.gauge.length"), kind: "number" },
      { name: "angle", label: t("bench.gauge.angle"), kind: "number", value: "0", hint: t("bench.gauge.angle_hint") },
      { name: "unit", label: t("bench.gauge.lengths_unit"), value: one.extension?.unit ?? "mm" },
    ],
    act: (said) => service.post("/v1/extensions", { instrument: one.id, ...said }),
  }),
  bare: (one) => ask({
    label: t("bench.gauge.extend_label", { instrument: one.id }),
    what: t("bench.gauge.bare_what"),
    done: t("bench.gauge.bare_do"),
    act: () => service.post("/v1/extensions", { instrument: one.id, tool_length: one.extension.tool_length, length: "0", unit: one.extension.unit }),
  }),
  warm: (one) => ask({
    label: t("bench.gauge.warm_label", { instrument: one.id }),
    what: one.comparative ? t("bench.gauge.warm_standard") : t("bench.gauge.warm_scale"),
    fields: [
      { name: "value", label: t("bench.gauge.temperature"), kind: "number" },
      { name: "unit", label: t("bench.gauge.unit"), kind: "tiles", value: "°C", options: [["°C", "°C"], ["°F", "°F"]] },
    ],
    act: (said) => service.post("/v1/temperatures", { instrument: one.id, ...said }),
  }),
};

// Instruments that show sizes, which a gauge can be set from.
function sized(one) {
  return (now().instruments ?? [])
    .filter((other) => !other.comparative && LENGTHS.includes(other.unit) && !other.leaves?.length)
    .map((other) => [other.id, other.id]);
}
