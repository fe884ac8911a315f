"""Rules about a reading among the others: the set it is one of, and the gauge's zero."""

from __future__ import annotations

from decimal import Decimal

from capture.build import Build
from capture.case import Case
from capture.errors import UnitError
from capture.quantity import convert
from capture.rules.objection import Objection, shown
from capture.sets import looked_at, others_in_set
from capture.spec.model import Kind
from capture.warm import warmed
from capture.zero import checked, sentence

NAMED_MOST = 3
"""So many others of a set are named in a sentence."""


def zero_check(case: Case) -> Objection | None:
    """A press announced as the gauge's zero check answers that, and no step."""
    if not case.zero_due or case.zero is None:
        return None
    if case.step is not None and case.step.kind is Kind.ZERO:
        return None  # then it answers that step
    try:
        deviation = convert(case.value, case.unit, case.zero_unit)
    except UnitError:
        return None  # no deviation of this gauge: the other rules say what is wrong with it
    found = checked(case.zero, deviation, case.zero_unit, case.zero_expanded)
    return {"code": "zero-check", "detail": sentence(found, case.instrument_id), "zero": found}


def another_gauges_set(case: Case) -> Objection | None:
    """A zero check by a gauge that has measured nothing, while another one's set is open."""
    assert case.step is not None
    if case.step.kind is not Kind.ZERO or case.set_of_another is None:
        return None
    return {
        "code": "another-gauges-set",
        "detail": f"{case.instrument_id} has measured nothing since its last check; the open set "
        f"is of {case.set_of_another}: put that one on its standard and press SEND.",
        "step": case.step.id,
        "instrument": case.set_of_another,
    }


def unlike_its_set(case: Case, u: float | None) -> Objection | None:
    """A size that does not belong with the others at the same part: measured on another one?"""
    assert case.build is not None
    assert case.step is not None
    assert case.at is not None
    assert case.measured is not None
    warm = warmed(case, case.build, case.step)  # what it is compared with is at 20 °C as well
    measured = case.measured if warm is None else warm.corrected(case.measured).value
    found = looked_at(case.build, case.at, measured, u)
    if found is None:
        return None
    outlier, sister = found
    unit, step = case.step.unit, case.step
    detail = (
        f"{shown(case.measured)} {unit} lies {_digits(abs(outlier.distance), 3)} {unit} from the "
        f"others of {step.part} {step.number}{_named(case.build, case.at)}, where "
        f"{_digits(outlier.allowed, 2)} {unit} would be far"
    )
    if sister is not None:
        detail += f"; it is where {step.part} {sister} was ({outlier.there:.6g} {unit})"
    return {
        "code": "unlike-its-set",
        "detail": f"{detail}. Look whether it was measured on the right one, and whether the "
        "others are right; then place it or measure again.",
        "step": step.id,
        "distance": f"{outlier.distance:.4g}",
        "allowed": f"{outlier.allowed:.4g}",
        "like": None if sister is None else str(sister),
    }


def _named(build: Build, at: int) -> str:
    """The others, where they are few: then one of them may as well be the wrong one."""
    sizes = others_in_set(build, at)
    if len(sizes) > NAMED_MOST:
        return ""
    return f" ({', '.join(f'{point} {shown(size)}' for point, size in sizes)})"


def _digits(size: float, most: int) -> str:
    """A computed size for a sentence: so many digits that count, and no exponent."""
    return f"{Decimal(f'{size:.{most - 1}e}'):f}"
