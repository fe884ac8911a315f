// What may be done about a reading that answers no step: the mend that its objection suggests, done
// at one touch or one key. It appends an entry, like every decision, and can be decided anew.

import { hidden } from "./blind.js";
import { t } from "./labels.js";
import { now } from "./now.js";
import * as service from "./service.js";
import * as words from "./words.js";

// What did not happen as it should, and is simply measured again.
const AGAIN = {
  "repeated-press": ({ typed }) => (typed ? t("bench.mend.entered_twice") : t("bench.mend.twice")),
  "second-pull": () => t("bench.mend.second_pull"),
  "incomplete-pull": () => t("bench.mend.incomplete"),
  "wrong-direction": () => t("bench.mend.direction"),
  "wrong-standard": () => t("bench.mend.standard"),
  "gauge-not-set": () => t("bench.mend.not_set"),
  "hidden-leaf": () => t("bench.mend.leaf"),
  "wrong-leaf": () => t("bench.mend.leaf"),
  "unsuitable-instrument": () => t("bench.mend.instrument"),
  "implausible-size": () => t("bench.mend.implausible"),
  "outside-instrument-range": () => t("bench.mend.implausible"),
  "finer-step-wanted": () => t("bench.mend.finer"),
  "extension-slip": () => t("bench.mend.extension"),
};

// { text, does() } of what suits best; null where only a person can say.
export function suggested(reading, step) {
  if (hidden(reading, step)) return null;
  const { reason } = reading.placement;
  // It was pressed for a build; another may be open by now.
  const build = now().build?.id === reading.placement.build ? now().build : null;
  if (reason.code === "unit-slip" && reason.fits_unit) return corrected(reading, reading.corrected?.digits ?? reading.value, reason.fits_unit);
  if (["decimal-slip", "sign-slip"].includes(reason.code) && reason.fits_value) {
    return corrected(reading, reason.fits_value, words.unit(reading));
  }
  if (reason.code === "fits-another-step" && reason.fits?.length === 1 && build) return moved(reading, reason.fits[0], build);
  if (AGAIN[reason.code]) return dropped(reading, AGAIN[reason.code](reading));
  return null;
}

// What was suggested holds for the reading as it was drawn: somebody may have decided on it since.
async function append(reading, path, body) {
  const { decision_seq: decided } = await service.get(`/v1/readings/${reading.seq}`);
  if (decided !== reading.decision_seq) throw new Error(t("bench.mend.decided"));
  return service.post(`/v1/readings/${reading.seq}/${path}`, body);
}

// A mend done; what came of it in words. Raises what the service says against it.
function corrected(reading, value, unit) {
  const size = `${words.signed(value)} ${unit}`;
  return {
    text: t("bench.mend.take_as", { size }),
    does: async () => {
      await append(reading, "corrections", { value, unit, reason: t("bench.mend.meant", { size }) });
      return t("bench.mend.taken_as", { from: words.size(reading), size });
    },
  };
}

function moved(reading, step, build) {
  const title = called(step, build);
  return {
    text: t("bench.mend.place_on", { title }),
    does: async () => {
      await append(reading, "placements", { build: build.id, step, reason: t("bench.mend.fits", { title }) });
      return t("bench.mend.placed_on", { from: words.size(reading), title });
    },
  };
}

function dropped(reading, reason) {
  return {
    text: t("bench.mend.void", { reason }),
    does: async () => {
      await append(reading, "voids", { reason });
      return t("bench.mend.voided", { from: words.size(reading), reason });
    },
  };
}

// A step's id in words: its operation's title, and where.
function called(id, build) {
  const [operation, ...place] = id.split("/");
  const title = build.operations.find((one) => one.id === operation)?.title ?? words.plain(operation);
  return [title, ...place.map(words.plain)].join(" · ");
}
