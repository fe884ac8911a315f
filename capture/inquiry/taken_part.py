"""The gauge studies and tool checks of a build that an instrument took part in, with results."""

from __future__ import annotations

from collections.abc import Container, Iterable
from decimal import Decimal
from typing import Any

from capture.desk import Desk
from capture.entry import Envelope
from capture.inquiry.studies import check_answer, check_asked, study_answer, study_asked
from capture.spec.model import Kind, Spec

Data = dict[str, Any]


def may_take_part(spec: Spec, instrument: str, kind: str) -> bool:
    """Whether this spec has a study or a tool check for such an instrument."""
    asked = [one.instruments for one in spec.studies.values()]
    asked += [one.instruments for one in spec.tool_checks.values()]
    checked = {one.tool for one in spec.tool_checks.values()}
    return instrument in checked or any(kind in kinds for kinds in asked)


def taken_part(
    desk: Desk,
    build: str,
    entries: Iterable[Envelope],
    instrument: str,
    records: Container[int],
) -> tuple[list[Data], list[Data]]:
    """(studies, tool checks) of a build that have a reading of this instrument, or whose tool it
    is. ``entries`` are those that count for the build, ``records`` the instrument's own."""
    mine, every = set[tuple[str, str]](), set[tuple[str, str]]()
    for entry in entries:
        step = entry["body"].get("step") if entry["kind"] == "decision" else None
        if step is not None and step["kind"] in (Kind.STUDY, Kind.CHECK):
            key = step["kind"], step["characteristic"]
            every.add(key)
            if entry["body"]["cites"]["instrument"] in records:
                mine.add(key)
    spec = desk.build(build).spec
    studies = [
        {"build": build, "unit": study.unit, **_studied(desk, build, name)}
        for name, study in spec.studies.items()
        if (Kind.STUDY.value, name) in mine
    ]
    checks = [
        {
            "build": build,
            "role": "tool" if check.tool == instrument else "reference",
            **check_answer(check_asked(desk, build, name)),
        }
        for name, check in spec.tool_checks.items()
        if (Kind.CHECK.value, name) in (every if check.tool == instrument else mine)
    ]
    return studies, checks


def _studied(desk: Desk, build: str, name: str) -> Data:
    """A study so far; once it is complete with its ``gauge``: repeatability and reproducibility as
    a standard deviation, and what six of them are of the tolerance, where it states one."""
    found = study_answer(study_asked(desk, build, name))
    variation = (found["result"] or {}).get("by_anova")
    gauge = None
    if variation is not None:
        parts = variation["models"][variation["used"]]["components"]
        part = next(one for one in parts if one["id"] == "gauge")
        names = ("standard_deviation", "percent_of_tolerance")
        gauge = {key: _shown(part[key]) for key in names}
    return {**found, "gauge": gauge}


def _shown(value: float | None) -> str | None:
    return None if value is None else format(Decimal(f"{value:.3g}"), "f")
