"""The set a reading is one of, and its sisters: the same characteristic at the other numbers."""

from __future__ import annotations

from collections.abc import Iterator

from capture.build import Build
from capture.quantity import Number
from capture.sisters import Family, Outlier, Own
from capture.spec.model import Kind
from capture.step import Step

SISTERS_MOST = 12
"""The nearest sets looked at: more would tell little more, and take time at every press."""


POINTS_MOST = 24
"""Nobody measures a bore or journal at more: what has more points is a grid, whose neighbours say
more of a reading than the whole does."""


def in_set(build: Build, step: Step) -> bool:
    """Whether a step is one of several points measured on one part."""
    if step.kind is not Kind.MEASURE or step.repeats > 1:
        return False
    return 1 < len(build.spec.characteristics[step.subject].points) <= POINTS_MOST


def looked_at(
    build: Build, at: int, measured: Number, u: float | None
) -> tuple[Outlier, int | None] | None:
    """The numbers of a size that does not belong to its set, and the number of the sister it fits
    better; None where it may well belong. ``u``: its standard uncertainty, in the step's unit."""
    step = build.steps[at]
    if not in_set(build, step):
        return None
    points = len(build.spec.characteristics[step.subject].points)
    work = build.works[step.operation]
    first = work.start + (step.number - 1) * points
    point = at - first
    own = _sizes(build, first, points)
    own[point] = None
    family, numbers = _family(build, step, points, u)
    found = family.stands_out(float(measured), own, point)
    if found is None:
        return None
    return found, None if found.fits is None else numbers[found.fits]


def others_in_set(build: Build, at: int) -> list[tuple[str, Number]]:
    """The point and the size, in the step's unit, of every other one that is on record."""
    step = build.steps[at]
    points = len(build.spec.characteristics[step.subject].points)
    first = build.works[step.operation].start + (step.number - 1) * points
    found = []
    for place in range(first, first + points):
        fill = build.fills[place]
        if place != at and fill is not None and fill.value is not None:
            found.append((build.steps[place].point, fill.value))
    return found


def _sizes(build: Build, first: int, points: int) -> list[float | None]:
    found: list[float | None] = []
    for fill in build.fills[first : first + points]:
        found.append(None if fill is None or fill.value is None else float(fill.value))
    return found


def _family(build: Build, step: Step, points: int, u: float | None) -> tuple[Family, list[int]]:
    """Made anew only when a size of another number has changed since."""
    work = build.works[step.operation]
    key = (step.operation, step.number)
    kept = build.families.get(key)
    stamp = (work.changed_beside(step.number), u)
    if kept is not None and kept[0] == stamp:
        return kept[1]
    numbers, sets = [], []
    for number in _nearest(step.number, work.total // points):
        sizes: Own = _sizes(build, work.start + (number - 1) * points, points)
        if any(size is not None for size in sizes):
            numbers.append(number)
            sets.append(sizes)
            if len(sets) == SISTERS_MOST:
                break
    made = (Family(sets, u), numbers)
    build.families[key] = (stamp, made)
    return made


def _nearest(number: int, count: int) -> Iterator[int]:
    """The other numbers, the nearest first, as far as may be looked."""
    for away in range(1, SISTERS_MOST + 1):
        if number > away:
            yield number - away
        if number + away <= count:
            yield number + away
