"""Steps: what a spec's order of work asks for, one press, confirmation or pull at a time."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from capture.spec.model import Kind, Limits, Operation, Spec


class Step(NamedTuple):
    """One thing to do. Its id is ``operation/number/point/repeat`` with empty words left out."""

    id: str
    kind: Kind
    operation: str
    subject: str
    """Id of the characteristic, confirmation, fastener group or turning test."""
    subject_id: str
    """``operation/number/point``: what the repeats of a point share; holds are on this."""
    part: str | None
    number: int
    point: str
    """Id of the point; of the stage for a tightening step."""
    repeat: int
    repeats: int
    unit: str
    limits: Limits
    plausible: Limits
    instruments: tuple[str, ...]
    aim: str
    """What it shares with the steps that want the same thing within the same limits."""


_NONE = Limits(None, None)


def steps_of(spec: Spec) -> Iterator[tuple[Operation, list[Step]]]:
    """Every operation of a spec with its steps, in the order of work."""
    makers = {
        Kind.MEASURE: _measure,
        Kind.CONFIRM: _confirm,
        Kind.TIGHTEN: _tighten,
        Kind.TURN: _turn,
    }
    for operation in spec.operations:
        yield operation, list(makers[operation.kind](spec, operation))


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
            _NONE, _NONE, (), operation.id,
        )  # fmt: skip


def _tighten(spec: Spec, operation: Operation) -> Iterator[Step]:
    one = spec.fasteners[operation.subject]
    for stage in one.stages:
        for number in one.order:
            where = f"{operation.id}/{number}/{stage.id}"
            yield Step(
                where, operation.kind, operation.id, one.id, where, one.part, number, stage.id, 1,
                1, stage.unit, stage.limits, stage.plausible, one.instruments,
                f"{operation.id}/{stage.id}",
            )  # fmt: skip


def _turn(spec: Spec, operation: Operation) -> Iterator[Step]:
    one = spec.turning_tests[operation.subject]
    where = f"{operation.id}/1"
    yield Step(
        where, operation.kind, operation.id, one.id, where, None, 1, "", 1, 1, one.unit,
        one.limits, one.plausible, one.instruments, operation.id,
    )  # fmt: skip
