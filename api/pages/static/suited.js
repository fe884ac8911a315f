// Which instruments of the bench a step is done with: of its kinds those that reach its size, as far
// as they say what they reach. Floats: a choice of what to show, which no verdict rests on.

export function suited(step, { instruments }) {
  const kinds = step?.instruments ?? [];
  const all = (instruments ?? []).filter((one) => kinds.includes(one.kind));
  const sizes = [step?.lower, step?.upper, step?.nominal_size, step?.target].filter((one) => one != null).map(Number);
  const reaching = all.filter((one) => reaches(one, step, sizes));
  return reaching.length ? reaching : all;
}

function reaches(one, step, sizes) {
  if (!one.range || one.unit !== step.unit || step.kind === "zero") return true;
  if (one.comparative && (!one.setting || one.setting.unit !== one.unit)) return true;
  const from = one.comparative ? Number(one.setting.size) : 0;
  const [low, high] = one.range.map(Number);
  return sizes.every((size) => size >= from + low && size <= from + high);
}
