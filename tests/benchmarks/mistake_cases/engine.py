"""One invented engine: true sizes with form, and what honest hands read of them.

Everything is drawn from the generator given; the numbers of ``Shop`` are ours (no source), chosen
like those of a bored and honed block measured with a bore gauge of 0.001 mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from decimal import Decimal
from random import Random
from typing import Final, NamedTuple

from capture.step import Step
from tests.benchmarks.mistake_cases.block import LEAVES, RING


@dataclass(frozen=True, slots=True)
class Shop:
    """How the parts were made and how well hands measure. Lengths in mm, one standard deviation."""

    form: float = 0.0025
    """Of a point against its bore's mean."""
    shared: float = 0.5
    """The share of the form's variance that all bores have in common."""
    between: float = 0.0025
    """Of the bores' means."""
    noise: float = 0.0006
    """Of one reading."""
    on_ring: float = 0.0002
    """Of a reading on the setting ring, which sits the gauge better than a bore does."""
    pull: float = 0.008
    """Of a pull, in parts of its target."""
    cylinders: int = 4

    @property
    def combined(self) -> float:
        """Of one reading against its bore's mean: form and measurement together."""
        return math.hypot(self.form, self.noise)


class Leaves(NamedTuple):
    """What is entered: the leaf that goes, the next that does not, those seen beside the first."""

    lower: Decimal
    upper: Decimal | None
    beside: tuple[Decimal | None, Decimal | None]


BORE: Final = 86.012
JOURNAL: Final = 57.991


@dataclass(slots=True)
class Engine:
    """True sizes, by number and then point in the order of the steps; and the gauge's zero."""

    draw: Random
    shop: Shop
    bores: list[list[float]] = field(default_factory=list)
    journals: list[list[float]] = field(default_factory=list)
    gaps: list[float] = field(default_factory=list)
    zero: float = 0.0
    """What the bore gauge reads too much."""

    def __post_init__(self) -> None:
        self.bores = self._sets(BORE, self.shop.cylinders, 6)
        self.journals = self._sets(JOURNAL, 5, 4)
        self.gaps = [self.draw.uniform(0.31, 0.54) for _ in range(4)]

    def _sets(self, size: float, count: int, points: int) -> list[list[float]]:
        draw, shop = self.draw, self.shop
        common = [draw.gauss(0.0, shop.form * math.sqrt(shop.shared)) for _ in range(points)]
        own = shop.form * math.sqrt(1.0 - shop.shared)
        return [
            [mean + one + draw.gauss(0.0, own) for one in common]
            for mean in (size + draw.gauss(0.0, shop.between) for _ in range(count))
        ]

    def set_apart(self, one: int, other: int, by: float) -> None:
        """Makes bore ``other`` larger than ``one`` by so many combined standard deviations, in
        their means; numbers from 1."""
        here, there = self.bores[one - 1], self.bores[other - 1]
        wanted = sum(here) / len(here) + by * self.shop.combined
        move = wanted - sum(there) / len(there)
        self.bores[other - 1] = [size + move for size in there]

    def size(self, step: Step, number: int | None = None) -> float:
        """The true size at a step; at another number's same point where one is given."""
        at = (step.number if number is None else number) - 1
        if step.operation == "gaps":
            return self.gaps[at]
        sets = self.bores if step.operation == "bores" else self.journals
        return sets[at][POINT[step.operation][step.point]]

    def read(self, step: Step, number: int | None = None) -> str:
        """The digits that an honest reading shows: of a bore the deviation from the ring."""
        draw, shop = self.draw, self.shop
        if step.kind == "zero":
            return digits(self.zero + draw.gauss(0.0, shop.on_ring))
        if step.kind == "tighten":
            target = {"snug": 30.0, "final": 80.0}[step.point]
            return f"{target * (1.0 + draw.gauss(0.0, shop.pull)):.1f}"
        size = self.size(step, number) + draw.gauss(0.0, shop.noise)
        return digits(size - float(RING) + self.zero if step.operation == "bores" else size)

    def leaves(self, step: Step) -> Leaves:
        """What honest hands find with the leaves, and see beside the one that goes."""
        return entered(max(leaf for leaf in LEAVES if float(leaf) <= self.gaps[step.number - 1]))


def _points(depths: str, axes: str) -> dict[str, int]:
    names = [f"{depth}-{axis}" for depth in depths.split() for axis in axes.split()]
    return {name: index for index, name in enumerate(names)}


POINT: Final = {
    "bores": _points("top middle bottom", "thrust axial"),
    "journals": _points("front rear", "a b"),
}


def digits(value: float, places: int = 3) -> str:
    """A display of so many decimals; no minus before nought."""
    return f"{round(value, places) + 0.0:.{places}f}"


def entered(leaf: Decimal, seen: Decimal | None = None) -> Leaves:
    """A leaf as it is entered, with the neighbours of ``seen`` (itself where it was read right)."""
    at, entry = LEAVES.index(leaf if seen is None else seen), LEAVES.index(leaf)
    return Leaves(leaf, _leaf(entry + 1), (_leaf(at - 1), _leaf(at + 1)))


def _leaf(at: int) -> Decimal | None:
    return LEAVES[at] if 0 <= at < len(LEAVES) else None
