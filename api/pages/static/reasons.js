// Why a reading answers no step, in plain words; the sentence with its numbers comes from the
// service.

import { plain } from "./words.js";

const REASONS = {
  "zero-check": "Zero check",
  "no-open-build": "No build is open",
  "no-open-step": "No step is open",
  "not-a-measuring-step": "The step wants no reading",
  "unknown-instrument": "Unknown instrument",
  "unsuitable-instrument": "Another kind of instrument is wanted",
  "unknown-unit": "The unit does not suit",
  "calibration-overdue": "Calibration overdue",
  "gauge-not-set": "The gauge was not set on a standard",
  "limits-not-known": "The limits are not known yet",
  "tightened-into-yield": "Already tightened into yield",
  "wrong-direction": "Turned the wrong way",
  "incomplete-pull": "The pull is not complete",
  "repeated-press": "The same press twice, it seems",
  "second-pull": "A second pull on the same fastener, it seems",
  "not-bracketed": "The leaf that does not go is missing",
  "neighbours-not-said": "The leaves beside it are missing",
  "leaf-not-in-set": "No such leaf in this set",
  "leaf-twice": "One leaf entered twice",
  "stack-not-said": "Several leaves, not said to be stacked",
  "stack-of-one": "A stack of one leaf",
  "neighbour-not-in-set": "The leaf beside it is not of this set",
  "hidden-leaf": "A leaf is hidden behind another",
  "wrong-leaf": "Another leaf stands there",
  "no-leaf-between": "No leaf stands there",
  "extension-slip": "The extension may not be as said",
  "unit-slip": "The unit may be mistaken",
  "wrong-standard": "The gauge may be set on another standard",
  "fits-another-step": "It fits another step",
  "decimal-slip": "The decimal point may have slipped",
  "sign-slip": "The sign may be wrong",
  "outside-instrument-range": "Outside what the instrument can show",
  "implausible-size": "Not plausible here",
  "finer-than-shown": "Finer than the instrument shows",
  late: "Older than the step",
  "unlike-its-set": "Unlike the others of its set",
  void: "Voided",
  fault: "This program failed on it",
};

export function reason(code) {
  return REASONS[code] ?? plain(code);
}
