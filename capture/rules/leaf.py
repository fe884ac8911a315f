"""Rules about what was entered of a feeler set, which has no display to send."""

from __future__ import annotations

from decimal import Decimal

from capture.case import Case
from capture.leaves import check
from capture.rules.objection import Objection


def leaf(case: Case) -> Objection | None:
    """What is wrong with the leaf entered: the neighbours seen beside it tell."""
    assert case.instrument is not None
    assert case.step is not None
    if not case.instrument.leaves:
        return None
    if case.bracket is None:
        return {
            "code": "not-bracketed",
            "detail": f"A leaf of {case.digits} {case.unit} alone says only that the gap is no "
            "smaller: say which leaf goes and which does not.",
            "step": case.step.id,
        }
    if case.unit != case.instrument.unit:
        return {
            "code": "leaf-not-in-set",
            "detail": f"The leaves of {case.instrument_id} are in {case.instrument.unit}, not in "
            f"{case.unit}: enter them as they are marked.",
            "step": case.step.id,
        }
    entered = [Decimal(each) for each in case.bracket["leaves"]]
    if not entered:
        if case.bracket["lower"] is None:
            return None  # not even the thinnest goes: there is no leaf to look at
        entered = [Decimal(case.bracket["lower"])]
    beside = case.bracket["beside"]
    low, high = beside if beside is not None else (None, None)
    found = check(
        case.instrument.leaves,
        entered,
        None
        if beside is None
        else (None if low is None else Decimal(low), None if high is None else Decimal(high)),
        stacked=len(entered) > 1,
    )
    if found is None:
        return None
    return {
        "code": found.code.value.replace("_", "-"),
        "detail": found.text,
        "step": case.step.id,
    }
