// A reading typed in, of an instrument that has no cable.

import { which } from "./bracket.js";
import { ask, flow } from "./dialog.js";
import * as service from "./service.js";

// The instruments of this bench that may be read off and typed in at this step.
export function typed(step, state) {
  if (step.kind === "confirm") return [];
  return (state.instruments ?? []).filter((one) => one.port === "typed"
    && step.instruments.includes(one.kind)
    && !one.leaves?.length && !(one.kind === "click-wrench" && step.kind === "turn"));
}

export function type(step, state) {
  const tools = typed(step, state);
  return flow(async () => {
    const tool = tools.length > 1 ? await which(tools) : tools[0];
    if (!tool) return;
    await ask({
      label: "Type a reading in",
      what: `As ${tool.id} shows it, with every digit.${tool.comparative ? " The deviation from its standard, with its sign." : ""}`,
      fields: [
        { name: "value", label: "Reading", kind: "number" },
        { name: "unit", label: "Unit", value: tool.unit },
      ],
      act: (said) => service.post("/v1/readings", { instrument: tool.id, ...said }),
    });
  });
}
