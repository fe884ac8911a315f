"""The sizes of a build as the rules look at them: by operation, number and point.

Floats begin here: what follows is statistics.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from capture.build import Build, Fill
from capture.spec.model import Characteristic, Kind
from capture.step import Step


@dataclass(frozen=True, slots=True)
class Measured:
    """What one operation has measured of a characteristic so far. Sizes in its unit."""

    operation: str
    characteristic: Characteristic
    repeats: dict[tuple[int, int], list[float]]
    """(number, index of the point) → the repeats there are, in order."""
    count: int
    """How many numbers there are."""
    u: float | None
    """Standard uncertainty of one reading, the largest of those there are; None where one has
    none."""
    whole: bool
    """Every step of the operation is answered."""

    @property
    def unit(self) -> str:
        return self.characteristic.unit

    def sizes(self, number: int) -> list[float | None]:
        """By point: the mean of its repeats, None where there is none."""
        return [
            mean(sizes) if (sizes := self.repeats.get((number, point))) else None
            for point in range(len(self.characteristic.points))
        ]

    def complete(self) -> dict[int, list[float]]:
        """Number → sizes by point, of the numbers that have them all."""
        found = {}
        for number in range(1, self.count + 1):
            sizes = [size for size in self.sizes(number) if size is not None]
            if len(sizes) == len(self.characteristic.points):
                found[number] = sizes
        return found

    def subject(self, number: int, point: int | None = None) -> str:
        """``operation/number`` or, of a point that has a name, ``operation/number/point``."""
        name = "" if point is None else self.characteristic.points[point].id
        return f"{self.operation}/{number}/{name}" if name else f"{self.operation}/{number}"


def mean(sizes: list[float]) -> float:
    """The arithmetic mean of at least one."""
    return math.fsum(sizes) / len(sizes)


def answers(build: Build, *kinds: Kind) -> Iterator[tuple[str, list[tuple[Step, Fill]], bool]]:
    """(operation, its answered steps that have a value, whether all are answered)."""
    for work in build.works.values():
        if work.operation.kind in kinds:
            found = []
            for at in range(work.start, work.stop):
                fill = build.fills[at]
                if fill is not None and fill.value is not None:
                    found.append((build.steps[at], fill))
            yield work.operation.id, found, work.answered


def measured(build: Build) -> Iterator[Measured]:
    """What every measuring operation has measured."""
    for operation, found, whole in answers(build, Kind.MEASURE):
        if not found:
            continue
        one = build.spec.characteristics[found[0][0].subject]
        names = {point.id: index for index, point in enumerate(one.points)}
        repeats: dict[tuple[int, int], list[float]] = {}
        for step, fill in found:
            assert fill.value is not None
            key = (step.number, names[step.point])
            repeats.setdefault(key, []).append(float(fill.value))
        count = build.spec.parts[one.part].count
        us = [uncertainty(fill) for _, fill in found]
        known = [u for u in us if u is not None]
        u = max(known) if len(known) == len(us) else None
        yield Measured(operation, one, repeats, count, u, whole)


def uncertainty(fill: Fill) -> float | None:
    """Standard uncertainty of a size; of a bracket with its half-width, any value in it as likely
    (half-width/√3: GUM, JCGM 100:2008, 4.3.7). None where it is not established."""
    u = None
    if fill.expanded is not None and fill.coverage is not None:
        u = float(fill.expanded) / float(fill.coverage)
    if fill.bracket is None or None in fill.bracket:
        return u
    lower, upper = fill.bracket
    assert lower is not None
    assert upper is not None
    half = (float(upper) - float(lower)) / 2.0
    return math.hypot(u or 0.0, half / math.sqrt(3.0))
