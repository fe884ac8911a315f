"""Readings of a study as a table by appraiser, sample and trial, complete or refused."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from capture.quantity import Number
from capture.spec.model import Study

Key = tuple[str, int, int]
"""Appraiser, sample and trial, the latter two from 1."""

_NAMED: Final = 3
"""How many readings a message names before it only counts."""


def grid(study: Study, readings: Mapping[Key, Number]) -> list[list[list[Number]]]:
    """The readings by appraiser, sample and trial.

    Raises ValueError where a reading is missing, or is of no turn of this study, naming them.
    """
    keys = {
        (appraiser, sample, trial)
        for appraiser in study.appraisers
        for sample in range(1, study.samples + 1)
        for trial in range(1, study.trials + 1)
    }
    if strange := [key for key in readings if key not in keys]:
        raise ValueError(f"Not of this study: {_named(sorted(strange))}.")
    if missing := [key for key in sorted(keys) if key not in readings]:
        raise ValueError(
            f"The study is not complete: {_named(missing)} not measured yet. Measure what is "
            "missing; the methods need every reading."
        )
    return [
        [
            [readings[appraiser, sample, trial] for trial in range(1, study.trials + 1)]
            for sample in range(1, study.samples + 1)
        ]
        for appraiser in study.appraisers
    ]


def _named(keys: list[Key]) -> str:
    words = [f"{who}, sample {sample}, trial {trial}" for who, sample, trial in keys[:_NAMED]]
    more = len(keys) - len(words)
    return "; ".join(words) + (f"; and {more} more" if more else "")
