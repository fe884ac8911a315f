// What a person says of an instrument: that it lies on its standard, what it was set on, which
// extension is on it, how warm it is.

import { ask, flow } from "./dialog.js";
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
    ...((now().askable ?? []).includes(one.id) ? [["ask", "Ask it for its reading now"]] : []),
    ...(one.comparative && one.setting && !one.zero_due ? [["zero", "Zero check: its next press is on its standard"]] : []),
    ...(one.comparative ? [["set", "It was set on a standard"]] : []),
    ...(TOOLS.includes(one.kind) ? [["extend", one.extension ? "Another extension is on it" : "An extension is on it"]] : []),
    ...(one.extension ? [["bare", "The extension is off again"]] : []),
    ...(mayType(one) && keyboard.assigned() !== one.id ? [["types", "It types: take what it types into this page"]] : []),
    ...(keyboard.assigned() === one.id ? [["silent", "It no longer types into this page"]] : []),
    ...(LENGTHS.includes(one.unit) ? [["warm", one.comparative ? "How warm it and its standard are" : "How warm it is"]] : []),
  ];
}

const ACTS = {
  types,
  silent,
  ask: (one) => ask({
    label: `A reading of ${one.id}`,
    what: "It is asked for its reading, as its SEND button would send it.",
    done: "Ask it now",
    act: () => service.post(`/v1/instruments/${one.id}/ask`, {}),
  }),
  zero: (one) => ask({
    label: `Zero check of ${one.id}`,
    what: `Lay it on ${one.setting.standard} (${one.setting.size} ${one.setting.unit}). Its next press answers this check and no step.`,
    done: "Its next press is the check",
    act: () => service.post("/v1/zeros", { instrument: one.id }),
  }),
  set: (one) => ask({
    label: `What ${one.id} was set on`,
    what: "Its deviations refer to this size from now on.",
    fields: [
      { name: "standard", label: "Setting standard", value: one.setting?.standard },
      { name: "size", label: "Its size", kind: "number", value: one.setting?.size },
      { name: "unit", label: "Unit", value: one.setting?.unit ?? one.unit },
      { name: "from_instrument", label: "Set from this instrument", kind: "tiles", value: "", options: [["", "None: a standard"], ...sized(one)] },
      { name: "expanded_uncertainty", label: "Expanded uncertainty of that size", kind: "number", optional: true, value: one.setting?.expanded_uncertainty ?? "", hint: "In the same unit; empty if not known." },
      { name: "coverage_factor", label: "Its coverage factor k", kind: "number", optional: true, value: one.setting?.coverage_factor ?? "" },
    ],
    act: ({ from_instrument: from, ...said }) => service.post("/v1/settings", { instrument: one.id, ...said, ...(from ? { from_instrument: from } : {}) }),
  }),
  extend: (one) => ask({
    label: `The extension on ${one.id}`,
    what: "Readings are torque at the tool from now on, and are converted to torque at the fastener.",
    fields: [
      { name: "tool_length", label: "Length of the tool, grip to square", kind: "number", value: one.extension?.tool_length },
      { name: "length", label: "Length of the extension, square to fastener", kind: "number" },
      { name: "angle", label: "Angle to the tool in degrees", kind: "number", value: "0", hint: "0: in line with it." },
      { name: "unit", label: "Unit of both lengths", value: one.extension?.unit ?? "mm" },
    ],
    act: (said) => service.post("/v1/extensions", { instrument: one.id, ...said }),
  }),
  bare: (one) => ask({
    label: `The extension on ${one.id}`,
    what: "Its readings are torque at the fastener again.",
    done: "It is off",
    act: () => service.post("/v1/extensions", { instrument: one.id, tool_length: one.extension.tool_length, length: "0", unit: one.extension.unit }),
  }),
  warm: (one) => ask({
    label: `How warm ${one.id} is`,
    what: one.comparative ? "And the standard it was set on." : "Its scale.",
    fields: [
      { name: "value", label: "Temperature", kind: "number" },
      { name: "unit", label: "Unit", kind: "tiles", value: "°C", options: [["°C", "°C"], ["°F", "°F"]] },
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
