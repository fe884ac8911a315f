"""What a person decides on a press: that it answers a step, that its value was another, or that it
does not count. Each is a new entry; ``verify`` carries it out again and must get the same."""

from __future__ import annotations

from typing import Any

from capture.build import Build
from capture.case import Case, measured_at
from capture.decide import by_rules, placed, unplaced
from capture.desk import Desk
from capture.drift import mark
from capture.errors import Conflict, NotFound, RequestError, UnitError
from capture.factored import limits_of
from capture.means import Means, case_of
from capture.spec.model import Kind
from capture.step import Step

Body = dict[str, Any]


def by_person(
    desk: Desk,
    seq: int,
    press: Body,
    means: Means,
    build: Build,
    step: Step,
    reason: str,
    corrected: Body | None,
) -> Body:
    """A person's decision that a press (as corrected, if so) answers a step.

    ``press`` is its body with ``at``; ``means`` what it was taken by.
    """
    if step.kind is Kind.CONFIRM:
        raise Conflict(f"{step.id} asks for a confirmation, not a reading.")
    _may_be_by_hand(build, step)
    at = build.index[step.id]
    there = build.fills[at]
    if there is not None and there.press != seq:
        raise Conflict(
            f"{step.id} is already answered by reading {there.press}.",
            mend=f"Void reading {there.press} first, with a reason.",
        )
    case = _case_as_stored(press, means, build, step, corrected)
    moved = build.press_at.get(seq)
    body = placed(desk, seq, "person", case, build, step, None if moved == at else moved)
    body["because"] = reason
    if corrected is not None:
        body["corrected"] = corrected
    drift = desk.drifted.get(seq)
    return body if drift is None else mark(body, drift)


def _case_as_stored(
    press: Body, means: Means, build: Build, step: Step, corrected: Body | None
) -> Case:
    name = press["instrument"]
    if means.record is None:
        raise NotFound(f"This bench has no record of an instrument {name}.")
    if means.record.instrument.comparative and means.setting is None:
        raise Conflict(
            f"{name} was not set on a standard when this was pressed, so its size is not known.",
            mend="Measure again, now that the gauge is set.",
        )
    case = case_of({**press, **(corrected or {})}, build, step, means, press["at"], (0, 0))
    try:
        case.measured = measured_at(case, step)
    except UnitError as error:
        raise RequestError(str(error), mend="Correct the reading's unit.") from error
    return case


def corrected_by_rule(
    desk: Desk,
    seq: int,
    press: Body,
    means: Means,
    build: Build,
    step: Step,
    reason: str,
    corrected: Body,
) -> Body:
    """A person corrects a press that is not placed: the rules are asked again, with the corrected
    value, about the step it was pressed for. That it repeats an earlier press or is late no longer
    counts, since a person vouches."""
    if step.kind is Kind.ZERO:
        _may_be_by_hand(build, step)
    case = case_of({**press, **corrected}, build, step, means, press["at"], (0, 0))
    body = by_rules(desk, seq, "person", case)
    body["because"] = reason
    body["corrected"] = corrected
    drift = desk.drifted.get(seq)
    return body if drift is None or body["step"] is None else mark(body, drift)


def _may_be_by_hand(build: Build, step: Step) -> None:
    """Raises Conflict where only a press can tell, or nothing could be told from one."""
    if step.kind is Kind.ZERO:
        raise Conflict(
            f"{step.id} is answered by the gauge on its standard.",
            mend="Put the gauge on its standard and press SEND.",
        )
    if limits_of(build, step) is None:
        one = build.spec.characteristics[step.subject]
        assert one.factors is not None
        raise Conflict(
            f"The limits of {step.id} follow from {one.factors.of}, which is not measured yet.",
            mend="Measure that first, then place the reading.",
        )


def voided(seq: int, press: Body, means: Means, build: Build | None, reason: str) -> Body:
    """A person's decision that a press does not count."""
    case = case_of(press, build, None, means, "", (0, 0))
    body = unplaced(seq, "person", case, {"code": "void", "detail": reason})
    body["because"] = reason
    return body
