"""Steps: what a spec's order of work asks for, one press, confirmation or pull at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from capture.quantity import exact
from capture.spec.model import Fastener, Kind, Limits, Operation, Spec, Stage, ToolCheck
from capture.study.order import draw
from capture.tool_check import limits


class Step(NamedTuple):
    """One thing to do. Its id is ``operation/number/point/repeat`` with empty words left out."""

    id: str
    kind: Kind
    operation: str
    subject: str
    """Id of the characteristic, confirmation, fastener group, turning test, zero check, study or
    tool check."""
    subject_id: str
    """``operation/number/point``: what the repeats of a point share; holds are on this."""
    part: str | None
    number: int
    point: str
    """Id of the point; of the stage for a tightening step; appraiser and trial of a study; the
    setting and reading of a tool check."""
    repeat: int
    repeats: int
    unit: str
    limits: Limits
    plausible: Limits
    instruments: tuple[str, ...]
    aim: str
    """What it shares with the steps that want the same thing within the same limits."""


NO_LIMITS = Limits(None, None)


def steps_of(spec: Spec) -> Iterator[tuple[Operation, list[Step]]]:
    """Every operation of a spec with its steps, in the order of work."""
    for operation in spec.operations:
        yield operation, list(_MAKERS[operation.kind](spec, operation))


def _measure(spec: Spec, operation: Operation) -> Iterator[Step]:
    one = spec.characteristics[operation.subject]
    name, subject, kind, repeats = operation.id, one.id, operation.kind, one.repeats
    many = repeats > 1
    points = [point.id for point in one.points]
    for number in range(1, spec.parts[one.part].count + 1):
        for point in points:
            where = f"{name}/{number}/{point}" if point else f"{name}/{number}"
            for repeat in range(1, repeats + 1):
                yield Step(
                    f"{where}/{repeat}" if many else where,
                    kind,
                    name,
                    subject,
                    where,
                    one.part,
                    number,
                    point,
                    repeat,
                    repeats,
                    one.unit,
                    one.limits,
                    one.plausible,
                    one.instruments,
                    name,
                )


def _confirm(spec: Spec, operation: Operation) -> Iterator[Step]:
    one = spec.confirmations[operation.subject]
    count = spec.parts[one.part].count if one.part else 1
    for number in range(1, count + 1):
        where = f"{operation.id}/{number}"
        yield Step(
            where, operation.kind, operation.id, one.id, where, one.part, number, "", 1, 1, "",
            NO_LIMITS, NO_LIMITS, (), operation.id,
        )  # fmt: skip


def _tighten(spec: Spec, operation: Operation) -> Iterator[Step]:
    one = spec.fasteners[operation.subject]
    for number, stage in _pulls(one):
        where = f"{operation.id}/{number}/{stage.id}"
        yield Step(
            where, operation.kind, operation.id, one.id, where, one.part, number, stage.id, 1, 1,
            stage.unit, stage.limits, stage.plausible, one.instruments,
            f"{operation.id}/{stage.id}",
        )  # fmt: skip


def _pulls(group: Fastener) -> Iterator[tuple[int, Stage]]:
    """Fastener and stage of each pull, in order: ``together`` of them at a time go through all
    stages (both bolts of a rod), or all of them where it is 0."""
    size = group.together or len(group.order)
    for start in range(0, len(group.order), size):
        for stage in group.stages:
            for number in group.order[start : start + size]:
                yield number, stage


def _turn(spec: Spec, operation: Operation) -> Iterator[Step]:
    one = spec.turning_tests[operation.subject]
    count = spec.parts[one.part].count if one.part else 1
    for number in range(1, count + 1):
        where = f"{operation.id}/{number}"
        yield Step(
            where, operation.kind, operation.id, one.id, where, one.part, number, "", 1, 1,
            one.unit, one.limits, one.plausible, one.instruments, operation.id,
        )  # fmt: skip


def _zero(spec: Spec, operation: Operation) -> Iterator[Step]:
    one = spec.zero_checks[operation.subject]
    where = f"{operation.id}/1"
    yield Step(
        where, operation.kind, operation.id, one.id, where, None, 1, "", 1, 1, one.unit, NO_LIMITS,
        one.plausible, one.instruments, operation.id,
    )  # fmt: skip


def _study(spec: Spec, operation: Operation) -> Iterator[Step]:
    one = spec.studies[operation.subject]
    for turn in draw(one.samples, one.appraisers, one.trials, one.lot):
        point = f"{turn.appraiser}-{turn.trial}"
        where = f"{operation.id}/{turn.sample}/{point}"
        yield Step(
            where, operation.kind, operation.id, one.id, where, None, turn.sample, point, 1, 1,
            one.unit, NO_LIMITS, one.plausible, one.instruments, operation.id,
        )  # fmt: skip


def _check(spec: Spec, operation: Operation) -> Iterator[Step]:
    one = spec.tool_checks[operation.subject]
    for number, (setting, reading) in enumerate(_settings(one), start=1):
        kept = limits(setting, one.permissible_deviation_percent) if reading else NO_LIMITS
        point = f"{setting:f}-{reading}" if reading else f"preload-{number}"
        where = f"{operation.id}/{point}"
        yield Step(
            where, operation.kind, operation.id, one.id, where, None, number, point, 1, 1, one.unit,
            kept, one.plausible, one.instruments, where,
        )  # fmt: skip


def _settings(one: ToolCheck) -> Iterator[tuple[Decimal, int]]:
    """What the tool is set to for each pull, and which reading at it; 0 for a preload."""
    for _ in range(one.preloads):
        yield one.maximum, 0
    for percent in one.points_percent:
        setting = exact(Fraction(one.maximum) * Fraction(percent) / 100)
        assert isinstance(setting, Decimal)  # a decimal times a decimal, over 100
        for reading in range(1, one.readings + 1):
            yield setting, reading


_MAKERS: dict[Kind, Callable[[Spec, Operation], Iterator[Step]]] = {
    Kind.MEASURE: _measure,
    Kind.CONFIRM: _confirm,
    Kind.TIGHTEN: _tighten,
    Kind.TURN: _turn,
    Kind.ZERO: _zero,
    Kind.STUDY: _study,
    Kind.CHECK: _check,
}
