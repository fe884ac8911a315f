"""The uncertainty budget of one reading, line by line, as its verdict was made with it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from capture.case import measured_at
from capture.desk import Desk
from capture.entry import Envelope
from capture.errors import Conflict
from capture.means import case_of, means_at
from capture.quantity import resolution
from capture.uncertainty import combine, expand, lines, single
from capture.warm import warmed

Data = dict[str, Any]


def budget(desk: Desk, press: Envelope, decision: Envelope) -> Data:
    """Raises Conflict for a reading that is not placed."""
    step_said = decision["body"]["step"]
    if step_said is None:
        raise Conflict(
            f"Reading {press['seq']} answers no step, so there is no verdict with an uncertainty.",
            mend="Place it first.",
        )
    build = desk.build(decision["body"]["build"])
    step = build.steps[build.index[step_said["id"]]]
    means = means_at(desk, decision["body"], press["body"]["instrument"])
    body = {**press["body"], **(decision["body"].get("corrected") or {})}
    case = case_of(body, build, step, means, press["at"], (0, 0))
    said: Data = {"reading": press["seq"], "step": step.id, "unit": step.unit}
    k = build.spec.decision.coverage_factor
    found = None
    if case.instrument is not None:
        found = single(
            case.instrument,
            resolution(case.digits),
            step.unit,
            case.setting,
            sent_unit=case.unit,
        )
    if found is None:
        return {**said, "established": False, "lines": []}
    case.measured = measured_at(case, step)
    warm = warmed(case, build, step)
    if warm is not None and warm.contributions:
        found = combine([*found.contributions, *warm.contributions])
    return {
        **said,
        "established": True,
        "lines": [line._asdict() for line in lines(found, k)],
        "standard_uncertainty": found.standard_uncertainty,
        "degrees_of_freedom": _degrees(found.degrees_of_freedom),
        "coverage_factor": format(Decimal(k), "f"),
        "expanded_uncertainty": format(expand(found.standard_uncertainty, k), "f"),
        "probability_of_conformance": _probability(
            decision["body"]["verdict"], found.standard_uncertainty
        ),
    }


def _probability(verdict: Data, u: float) -> float | None:
    """That the size lies within its limits, for all that this reading says (JCGM 106, 7)."""
    from capture.risk import Zone, conformance_probability

    lower, upper = (
        None if verdict[side] is None else float(verdict[side]) for side in ("lower", "upper")
    )
    if (lower is None and upper is None) or not u or "bracket" in verdict:
        return None
    return conformance_probability(float(verdict["measured"]), u, Zone(lower, upper))


def _degrees(value: float) -> float | None:
    """Null for infinitely many: JSON has no such number."""
    return None if value == float("inf") else value
