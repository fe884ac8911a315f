"""The sizes of a part as its steps have them: at every point, with what they share."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

from capture import shapes
from capture.build import Build, Fill
from capture.correlation import Shared
from capture.evaluate import standard_uncertainty
from capture.quantity import Number, convert, unit_step
from capture.spec.model import Characteristic, Point

Fills = Mapping[int, Fill | None]
"""What is about to answer a step, by its index: seen as if it were there already."""


class Size(NamedTuple):
    """The size at one point: mean of its repeats, its standard uncertainty, and what of that
    other sizes share."""

    value: Number
    u: float | None
    shared: Shared = ()


def sizes_of(
    build: Build, one: Characteristic, number: int, fills: Fills, unit: str
) -> dict[Point, Size] | None:
    """Sizes at every point of a characteristic at one number, in ``unit``, from the last
    operation that has measured them all; None while none has."""
    for work in reversed(build.works_of(one.id)):
        per = len(one.points) * one.repeats
        start = work.start + (number - 1) * per
        if start >= work.stop:
            continue
        steps = range(start, start + per)
        found = [fills[at] if at in fills else build.fills[at] for at in steps]
        if all(fill is not None and fill.value is not None and _whole(fill) for fill in found):
            repeats = one.repeats
            groups = [found[at : at + repeats] for at in range(0, per, repeats)]
            sizes = (_size([f for f in group if f is not None], one, unit) for group in groups)
            return dict(zip(one.points, sizes, strict=True))
    return None


def _whole(fill: Fill) -> bool:
    """Whether it is a size: of a bracket with one end no size is known."""
    return fill.bracket is None or None not in fill.bracket


def _size(fills: list[Fill], one: Characteristic, unit: str) -> Size:
    values = [convert(fill.value, one.unit, unit) for fill in fills if fill.value is not None]
    # The newest decision is on all repeats together; seq 0 is the one being made.
    newest = max(fills, key=lambda fill: fill.seq or math.inf)
    u, shared = standard_uncertainty(newest.expanded, newest.coverage), newest.shared
    if one.unit != unit:
        step = float(unit_step(one.unit, unit))
        u = None if u is None else u * step
        shared = tuple((source, each * step) for source, each in shared)
    return Size(shapes.mean(values) if len(values) > 1 else values[0], u, shared)
