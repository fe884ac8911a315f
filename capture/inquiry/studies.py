"""What a gauge study, or a torque tool's check against a reference, says so far."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, NamedTuple

from capture.build import Build
from capture.desk import Desk
from capture.errors import NotFound
from capture.quantity import Number, text
from capture.spec.model import Kind, Study, ToolCheck
from capture.step import Step

Data = dict[str, Any]


class Studied(NamedTuple):
    """A study's readings: by (appraiser, sample, trial)."""

    study: Study
    readings: dict[tuple[str, int, int], Number]
    wanted: int


class Checked(NamedTuple):
    """A tool check's readings, point by point."""

    check: ToolCheck
    readings: list[list[Number]]
    reference_percent: float | None
    preloads_done: int


def _answers(build: Build, kind: Kind, subject: str) -> list[tuple[Step, Number | None]]:
    found = []
    for work in build.works.values():
        if work.operation.kind is kind and work.operation.subject == subject:
            for at in range(work.start, work.stop):
                fill = build.fills[at]
                found.append((build.steps[at], None if fill is None else fill.value))
    return found


def study_asked(desk: Desk, build_id: str, name: str) -> Studied:
    """Raises NotFound."""
    build = desk.build(build_id)
    study = build.spec.studies.get(name)
    if study is None:
        raise NotFound(
            f"This spec has no study {name}.",
            mend=f"It has: {', '.join(build.spec.studies) or 'none'}.",
        )
    answers = _answers(build, Kind.STUDY, name)
    readings = {}
    for step, value in answers:
        if value is not None:
            appraiser, _, trial = step.point.rpartition("-")
            readings[appraiser, step.number, int(trial)] = value
    return Studied(study, readings, len(answers))


def study_answer(asked: Studied) -> Data:
    """The analysis where every reading is there; before that only how many are."""
    found: Data = {
        "study": asked.study.id,
        "title": asked.study.title,
        "readings": len(asked.readings),
        "wanted": asked.wanted,
        "complete": 0 < asked.wanted == len(asked.readings),
        "result": None,
    }
    if found["complete"]:
        from capture.study.analysis import analyse

        found["result"] = analyse(asked.study, asked.readings)
    return found


def check_asked(desk: Desk, build_id: str, name: str) -> Checked:
    """Raises NotFound."""
    build = desk.build(build_id)
    check = build.spec.tool_checks.get(name)
    if check is None:
        raise NotFound(
            f"This spec has no tool check {name}.",
            mend=f"It has: {', '.join(build.spec.tool_checks) or 'none'}.",
        )
    answers = _answers(build, Kind.CHECK, name)
    preloads = [value for _, value in answers[: check.preloads]]
    taken = answers[check.preloads :]
    points = [
        [value for _, value in taken[at : at + check.readings] if value is not None]
        for at in range(0, len(taken), check.readings)
    ]
    while points and not points[-1]:
        points.pop()
    done = sum(value is not None for value in preloads)
    return Checked(check, points, _reference(build, name), done)


def _reference(build: Build, name: str) -> float | None:
    """Relative expanded uncertainty (k = 2) of the reference at the lowest point, percent."""
    for work in build.works.values():
        if work.operation.kind is Kind.CHECK and work.operation.subject == name:
            for fill in build.fills[work.start : work.stop]:
                if fill is not None and fill.expanded is not None and fill.value:
                    k = Decimal(fill.coverage or "2")
                    return float(Decimal(fill.expanded) * 2 / k) / float(fill.value) * 100
    return None


def check_answer(asked: Checked) -> Data:
    """Deviation at each point against the reference, and whether the tool conforms."""
    from capture.tool_check import verify_tool

    check = asked.check
    result = verify_tool(
        check, asked.readings, reference_uncertainty_percent=asked.reference_percent
    )
    return {
        "check": check.id,
        "title": check.title,
        "tool": check.tool,
        "unit": check.unit,
        "permissible_deviation_percent": text(check.permissible_deviation_percent),
        "preloads": {"done": asked.preloads_done, "wanted": check.preloads},
        "conforming": result.conforming,
        "worst_percent": None if result.worst is None else text(result.worst, 4),
        "repeatability_percent": result.repeatability,
        "expanded_uncertainty_percent": result.expanded_uncertainty,
        "points": [
            {
                "setting": text(point.setting),
                "readings": [text(value) for value in point.readings],
                "deviations_percent": [text(value, 4) for value in point.deviations],
                "within": list(point.within),
                "spread_percent": text(point.spread, 4),
                "complete": point.complete,
            }
            for point in result.points
        ],
    }
