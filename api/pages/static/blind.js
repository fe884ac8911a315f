// A study is blind: who is asked to measure a sample must not see what it measured before.

const study = (id) => (id ?? "").split("/");

// Whether this reading may not be shown while the step asked for is of the same sample.
export function hidden(reading, step) {
  if (step?.kind !== "study" || !reading) return false;
  const { placement } = reading;
  const [operation, sample] = study(placement.step ?? placement.reason?.step);
  if (operation !== step.operation) return false;
  // One that answers no step may be of any sample, where it does not say.
  return sample === undefined || sample === String(step.number);
}
