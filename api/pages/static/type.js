// A reading typed in, of an instrument that has no cable.

import { which } from "./bracket.js";
import { ask, flow } from "./dialog.js";
import { t } from "./labels.js";
import { sendFor } from "./stepseen.js";

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
      label: t("bench.type.label"),
      what: tool.comparative ? t("bench.type.deviation", { instrument: tool.id }) : t("bench.type.what", { instrument: tool.id }),
      fields: [
        { name: "value", label: t("bench.type.reading"), kind: "number" },
        { name: "unit", label: t("bench.type.unit"), value: tool.unit },
      ],
      act: (said) => sendFor(step, { instrument: tool.id, ...said }),
    });
  });
}
