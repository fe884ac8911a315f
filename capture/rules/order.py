"""The place of each rule in the ordered table (see ``capture.place``), for whoever asks which of
them decided."""

from __future__ import annotations

from typing import Final

ORDER: Final = (
    "zero-check", "no-open-build", "no-open-step", "not-a-measuring-step", "unknown-instrument",
    "unsuitable-instrument", "unknown-unit", "calibration-overdue", "gauge-not-set",
    "another-gauges-set", "limits-not-known", "tightened-into-yield", "wrong-direction",
    "incomplete-pull", "repeated-press", "second-pull", "not-bracketed", "neighbours-not-said",
    "leaf-not-in-set", "leaf-twice", "stack-not-said", "stack-of-one", "neighbour-not-in-set",
    "hidden-leaf", "wrong-leaf", "no-leaf-between", "extension-slip", "unit-slip",
    "wrong-standard", "fits-another-step", "decimal-slip", "sign-slip",
    "outside-instrument-range", "implausible-size", "finer-than-shown", "late",
    "unlike-its-set", "finer-step-wanted",
)  # fmt: skip
"""Codes of objections, the first to match winning."""


def place_of(code: str) -> int | None:
    """Counted from 1; None for what is no rule: a reading that was voided, or a fault."""
    return ORDER.index(code) + 1 if code in ORDER else None
