"""The virtual workshop: the true size of every part, which no gauge ever shows exactly.

Every number is drawn from the name of the *lot* (any text), so that the same lot gives the same
parts on every machine. A part has a size, and errors of form about it: it tapers over its depths
and is out of round over its axes, as machined and worn parts are. Sizes are floats in mm at 20 °C
(ISO 1), volumes in cm³; other units only appear where a gauge shows them.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

STEEL = 11.5e-6
"""Thermal expansion of steel per °C, a usual handbook figure (from memory)."""


@dataclass(frozen=True, slots=True)
class Follow:
    """How a feature follows from another one: its size changes with what that one really is."""

    characteristic: str
    base: float
    """The size of the other at which this one is as its own feature says."""
    factor: float = 1.0
    """What this one changes by when the other changes by one."""
    part: str | None = None
    """The other's part at the same position; None: it is a size of the same piece."""
    per: int = 1
    """How many of that part stand at each position; their mean counts."""
    point: str | None = None
    """The other's point; None: the mean over its points."""


@dataclass(frozen=True, slots=True)
class Feature:
    """How one characteristic of one kind of part turns out in manufacture. Lengths in mm."""

    characteristic: str
    size: float
    spread: float = 0.0
    """Half width of the variation between pieces."""
    taper: float = 0.0
    """First depth less last depth, at most; each piece has between half and all of it."""
    out_of_round: float = 0.0
    """Largest axis less smallest axis, at most; each piece has between half and all of it."""
    scatter: float = 0.0
    """Half width of the variation from point to point that is neither."""
    depths: tuple[str, ...] = ("",)
    axes: tuple[str, ...] = ("",)
    expansion: float = STEEL
    offsets: Mapping[str, float] = field(default_factory=dict)
    """What is wrong with named pieces, by piece or ``part-number``: added to the size."""
    follows: tuple[Follow, ...] = ()
    """What its size also depends on: a ring's gap on the bore it stands in."""

    def points(self) -> tuple[str, ...]:
        """The points' names: depth and axis joined by a hyphen."""
        return tuple(point_name(depth, axis) for depth in self.depths for axis in self.axes)


def point_name(depth: str, axis: str) -> str:
    """``top-thrust``, ``top``, ``thrust`` or an empty text for the part as a whole."""
    return "-".join(word for word in (depth, axis) if word)


class UnknownFeature(LookupError):
    """The scenario does not say how this characteristic turns out."""


class Workshop:
    """Every part of one lot, with its true sizes; honing changes them, measuring does not."""

    def __init__(self, lot: str, features: Sequence[Feature]) -> None:
        self.lot = lot
        self._features = {feature.characteristic: feature for feature in features}
        self._removed: dict[tuple[str, str], float] = {}

    def feature(self, characteristic: str) -> Feature:
        """How it turns out in manufacture; UnknownFeature with the known names."""
        try:
            return self._features[characteristic]
        except KeyError:
            known = ", ".join(sorted(self._features)) or "none"
            raise UnknownFeature(
                f"The scenario has no feature '{characteristic}' (it has: {known}). "
                "Add a [[feature]] with this characteristic to scenario.toml."
            ) from None

    def true_size(self, characteristic: str, piece: str, point: str = "") -> float:
        """The size of ``piece`` at ``point``, mm at 20 °C, as it is now."""
        feature = self.feature(characteristic)
        return (
            self._average_size(feature, piece)
            + self._form(feature, piece, point)
            + self._removed.get((characteristic, piece), 0.0)
        )

    def mean_size(self, characteristic: str, piece: str) -> float:
        """The mean over the points of ``piece``, mm at 20 °C, as it is now."""
        points = self.feature(characteristic).points()
        return sum(self.true_size(characteristic, piece, each) for each in points) / len(points)

    def machine(self, characteristic: str, piece: str, change: float) -> None:
        """Adds ``change`` mm to every size of it: honing a bore is positive, grinding negative."""
        self.feature(characteristic)
        key = (characteristic, piece)
        self._removed[key] = self._removed.get(key, 0.0) + change

    def _draw(self, *words: str) -> random.Random:
        return random.Random("/".join((self.lot, *words)))

    def _average_size(self, feature: Feature, piece: str) -> float:
        drawn = self._draw(feature.characteristic, piece)
        return (
            feature.size
            + feature.offsets.get(piece, 0.0)
            + drawn.uniform(-feature.spread, feature.spread)
        )

    def _form(self, feature: Feature, piece: str, point: str) -> float:
        """What the point's size differs from the piece's average by."""
        place = feature.points().index(point) if point in feature.points() else None
        if place is None:
            known = ", ".join(name or "(whole)" for name in feature.points())
            raise UnknownFeature(
                f"Feature '{feature.characteristic}' has no point '{point}' (it has: {known}). "
                "Make its depths and axes in scenario.toml those of the engine's spec."
            )
        depth, axis = divmod(place, len(feature.axes))
        drawn = self._draw(feature.characteristic, piece, "form")
        taper = feature.taper * drawn.uniform(0.5, 1.0)
        oval = feature.out_of_round * drawn.uniform(0.5, 1.0)
        along = depth / (len(feature.depths) - 1) - 0.5 if len(feature.depths) > 1 else 0.0
        # The first axis lies along the oval's long diameter; a diameter repeats every half turn,
        # so the axes divide 180°, and the oval has two long ends in a full one.
        turn = math.pi * axis / len(feature.axes)
        across = math.cos(2 * turn) / 2 if len(feature.axes) > 1 else 0.0
        uneven = self._draw(feature.characteristic, piece, point, "scatter")
        return -taper * along + oval * across + uneven.uniform(-feature.scatter, feature.scatter)
