"""One point of one number: its repeats, their mean, and the verdict on them together."""

from __future__ import annotations

from collections.abc import Sequence

from capture import shapes
from capture.build import Build, Fill
from capture.inquiry.glance.rounded import FINEST, shown
from capture.inquiry.glance.shape import Cell, Limited, Taken
from capture.quantity import Number, brief, text
from capture.spec.model import Limits


def cell(build: Build, steps: Sequence[int], limits: Limits | None, *, held: bool) -> Cell:
    """``steps``: the indexes of the repeats of one point, in order."""
    step = build.steps[steps[0]]
    fills = [fill for at in steps if (fill := build.fills[at]) is not None]
    newest = max(fills, key=lambda fill: fill.seq) if fills else None
    grounds = _grounds(limits, newest)
    values = [fill.value for fill in fills if fill.value is not None]
    mean = shapes.mean(values) if len(values) > 1 else (values[0] if values else None)
    return Cell(
        point=step.point,
        subject=step.subject_id,
        taken=tuple(_taken(fill, grounds) for fill in fills),
        wanted=len(steps),
        value=None if mean is None else text(mean),
        shown=None if mean is None else shown(mean, *grounds),
        result="" if newest is None else newest.result,
        expanded=None if newest is None else newest.expanded,
        coverage=None if newest is None else newest.coverage,
        limits=None if limits is None else limited(limits),
        conceded=build.conceded.get(step.subject_id),
        follows=build.stale.get(step.subject_id),
        drift=next((fill.drift for fill in fills if fill.drift), ""),
        held=held,
    )


def limited(limits: Limits) -> Limited:
    """Limits as text for reading: those that follow from another size may have no end."""
    return Limited(_limit(limits.lower), _limit(limits.upper))


def _limit(limit: Number | None) -> str | None:
    return None if limit is None else brief(limit, FINEST)


def _grounds(limits: Limits | None, fill: Fill | None) -> tuple[str | None, ...]:
    known = Limited(None, None) if limits is None else limited(limits)
    return (known.lower, known.upper, None if fill is None else fill.expanded)


def _taken(fill: Fill, grounds: tuple[str | None, ...]) -> Taken:
    value, bracket = fill.value, fill.bracket
    return Taken(
        reading=fill.press,
        entry=fill.seq,
        value="" if value is None else text(value),
        shown="" if value is None else shown(value, *grounds),
        bracket=None if bracket is None else (_end(bracket[0]), _end(bracket[1])),
    )


def _end(value: Number | None) -> str | None:
    return None if value is None else text(value)
