"""What a rule says against placing a press."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from capture.case import Case
from capture.quantity import Number, text
from capture.step import Step

Objection = dict[str, Any]
"""``{"code", "detail", …numbers as text}``; ``Any`` because the numbers differ by code."""

Rule = Callable[[Case], Objection | None]


def shown(size: Number) -> str:
    """A size for a sentence: exact where that is short, else with six decimals."""
    exact = text(size)
    return exact if len(exact.partition(".")[2]) <= 6 else text(size, 6)


def others(case: Case) -> Iterator[Step]:
    """The first unanswered step of every other open operation."""
    assert case.build is not None
    for at in case.build.open_firsts():
        other = case.build.steps[at]
        if case.step is None or other.operation != case.step.operation:
            yield other
