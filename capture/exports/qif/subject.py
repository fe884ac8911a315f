"""What a reading measured, in the standard's four steps: a part, a characteristic's definition with
its limits, its nominal, and the item (this characteristic at this number and point of the part).
"""

from __future__ import annotations

from typing import Any, NamedTuple
from uuid import UUID

from capture.exports.columns import DECIMAL
from capture.exports.qif.markup import attributes, element, optional, said
from capture.exports.qif.units import OTHER, sort_of
from capture.quantity import plain
from capture.spec.model import Spec

RESULTS = ("measure", "tighten", "turn")
"""Kinds of step that say something of the product; the others say something of the gauge."""


class Subject(NamedTuple):
    """A characteristic within the limits that a reading was judged by: what its readings share."""

    spec: str
    """The spec's hash; the build's id where the spec is not there."""
    kind: str
    characteristic: str
    stage: str
    """Of tightening."""
    part: str
    """Empty: the engine as a whole."""
    unit: str
    lower: str | None
    upper: str | None

    @property
    def name(self) -> str:
        return "/".join(word for word in (self.characteristic, self.stage) if word)


class Said(NamedTuple):
    """What the spec says of a subject."""

    title: str
    target: str | None


def subject_of(reading: dict[str, Any], spec: Spec | None) -> Subject:
    """The subject of a placed reading that has a measured value."""
    placement, verdict = reading["placement"], reading["verdict"]
    return Subject(
        placement["build"] if spec is None else spec.hash,
        placement["kind"],
        placement["characteristic"],
        placement["point"] if placement["kind"] == "tighten" else "",
        placement["part"] or "",
        verdict["unit"],
        _number(verdict.get("lower")),
        _number(verdict.get("upper")),
    )


def _number(limit: str | None) -> str | None:
    return limit if limit is not None and DECIMAL.match(limit) else None


def expressible(subject: Subject) -> bool:
    """Whether the standard can say it: a unit of the user's own needs a limit."""
    return sort_of(subject.unit) is not OTHER or (subject.lower, subject.upper) != (None, None)


def said_of(subject: Subject, spec: Spec | None) -> Said:
    """Its title and the size wanted; its own words where there is no spec."""
    if spec is None:
        return Said(subject.name, None)
    if subject.kind == "measure":
        size = spec.characteristics[subject.characteristic]
        return Said(size.title, plain(size.nominal_size))
    if subject.kind == "turn":
        return Said(spec.turning_tests[subject.characteristic].title, None)
    group = spec.fasteners[subject.characteristic]
    for stage in group.stages:
        if stage.id == subject.stage:
            return Said(f"{group.title}: {stage.title}", plain(stage.target))
    return Said(group.title, None)


def definition(number: int, subject: Subject, words: Said) -> str:
    """What is measured and within which limits."""
    sort = sort_of(subject.unit)
    if sort is OTHER:
        rest = ""
    else:
        limits = _limits(subject)
        within = element("Tolerance", limits) if limits else said("NonTolerance", "MEASURED")
        rest = within + said("WhatToMeasure", words.title)
    return element(
        f"{sort.name}CharacteristicDefinition",
        attributes(kind=subject.kind, characteristic=subject.characteristic),
        said("Description", words.title),
        said("Name", subject.name),
        rest,
        id=number,
    )


def nominal(number: int, definition_id: int, subject: Subject, words: Said) -> str:
    """The size wanted."""
    sort = sort_of(subject.unit)
    target = words.target
    note = None
    if sort is OTHER and target is None:
        # The schema insists on one. A limit is at least a value that the spec states.
        target = subject.upper if subject.upper is not None else subject.lower
        note = "no target is stated: a limit stands in its place"
    wanted = "" if target is None else said("TargetValue", target, **{sort.attribute: subject.unit})
    return element(
        f"{sort.name}CharacteristicNominal",
        attributes(target_note=note),
        said("CharacteristicDefinitionId", definition_id),
        said("Name", subject.name),
        wanted,
        _limits(subject) if sort is OTHER else "",
        id=number,
    )


def item(number: int, nominal_id: int, subject: Subject, place: tuple[int, str]) -> str:
    """The characteristic at one number and point of its part."""
    at, point = place
    words = (subject.characteristic, str(at), point)
    return element(
        f"{sort_of(subject.unit).name}CharacteristicItem",
        attributes(number=at, point=point or None),
        said("Name", "/".join(word for word in words if word)),
        said("CharacteristicNominalId", nominal_id),
        id=number,
    )


def _limits(subject: Subject) -> str:
    """Both limits as they stand, not as deviations; empty where there is none."""
    unit = {sort_of(subject.unit).attribute: subject.unit}
    ends = [
        said(name, limit, **unit)
        for name, limit in (("MaxValue", subject.upper), ("MinValue", subject.lower))
        if limit is not None
    ]
    return "".join([*ends, said("DefinedAsLimit", "true")]) if ends else ""


def part(number: int, uuid: UUID, subject: Subject, spec: Spec | None, nominals: str) -> str:
    """A kind of part of a spec, or the whole engine."""
    title, revision, notice = subject.part or subject.spec, "", ""
    if spec is not None:
        title = spec.parts[subject.part].title if subject.part else spec.title
        revision = spec.revision
        notice = ("Invented, of no real engine. " if spec.invented else "") + spec.notice
    return element(
        "Part",
        attributes(spec=subject.spec),
        element("Header", said("Name", title), optional("Description", notice)),
        said("UUID", str(uuid)),
        said("ModelNumber", subject.part or "engine"),
        optional("Version", revision),
        nominals,
        id=number,
    )
