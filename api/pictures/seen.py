"""What a drawing of a part shows: its points, which of them is wanted, which are done."""

from __future__ import annotations

import math
from collections.abc import Collection
from typing import NamedTuple

from api.pictures.directions import directions
from api.pictures.strokes import Spot
from capture.spec.model import Characteristic, Point
from capture.spec.shape import Place, Shape
from capture.step import Step

MOST_LINES = 12
"""Depths or axes that are drawn one by one; of more, only the one that is wanted."""


class Seen(NamedTuple):
    """Points of one part: depth by depth, axis by axis."""

    shape: Shape
    depths: tuple[str, ...] = ()
    axes: tuple[str, ...] = ()
    degrees: tuple[float, ...] = ()
    """Of the axes."""
    layout: tuple[Place, ...] = ()
    depth: int | None = None
    """Index of the depth that is wanted; None where nothing is, or no depth is named."""
    axis: int | None = None
    wanted: bool = False
    """Something is to be measured here."""
    done: frozenset[tuple[int, int]] = frozenset()
    """Depth and axis (0 where there are none) of points that are done."""

    @property
    def depth_word(self) -> str:
        return "" if self.depth is None else self.depths[self.depth]

    @property
    def axis_word(self) -> str:
        return "" if self.axis is None else self.axes[self.axis]

    def height(self, index: int, low: float, high: float) -> float:
        """Where the depth with this index is between the first and the last, on a drawing."""
        count = max(len(self.depths), 1)
        return low + (high - low) * (index + 0.5) / count

    def drawn_depths(self) -> list[int]:
        """Depths drawn though they are not wanted now."""
        few = len(self.depths) <= MOST_LINES
        return [at for at in range(len(self.depths)) if at != self.depth] if few else []

    def drawn_axes(self) -> list[int]:
        few = len(self.axes) <= MOST_LINES
        return [at for at in range(len(self.axes)) if at != self.axis] if few else []

    def at(self, axis: int, x: float, y: float, far: float) -> Spot:
        """The point ``far`` from a middle in the direction of an axis."""
        angle = math.radians(self.degrees[axis])
        return (x + far * math.cos(angle), y - far * math.sin(angle))

    def done_depth(self, depth: int) -> bool:
        """Whether this depth is done: in the direction that is wanted, or in all of them."""
        axes = range(max(len(self.axes), 1)) if self.axis is None else (self.axis,)
        return all((depth, axis) in self.done for axis in axes)

    def done_axis(self, axis: int) -> bool:
        """The same of a direction, at the depth that is wanted."""
        depths = range(max(len(self.depths), 1)) if self.depth is None else (self.depth,)
        return all((depth, axis) in self.done for depth in depths)


def seen(one: Characteristic, shape: Shape, step: Step, done: Collection[str]) -> Seen:
    """The points of a characteristic with the step's wanted."""
    points = one.points
    across = next((at for at, p in enumerate(points) if p.depth != points[0].depth), len(points))
    depths = tuple(p.depth for p in points[::across]) if points[0].depth else ()
    axes = tuple(p.axis for p in points[:across]) if points[0].axis else ()
    here = next(at for at, point in enumerate(points) if point.id == step.point)
    found = one.directions or directions(
        axes, cap=shape is Shape.CAPPED_BORE, ways=shape is Shape.CROWN
    )
    return Seen(
        shape,
        depths,
        axes,
        tuple(found),
        one.layout,
        here // across if depths else None,
        here % across if axes else None,
        wanted=True,
        done=_done(points, across, step, done),
    )


def _done(
    points: tuple[Point, ...], across: int, step: Step, done: Collection[str]
) -> frozenset[tuple[int, int]]:
    if not done or len(points) > MOST_LINES**2:
        return frozenset()
    first = f"{step.operation}/{step.number}"
    found = set()
    for at, point in enumerate(points):
        where = f"{first}/{point.id}" if point.id else first
        ids = [where] if step.repeats == 1 else [f"{where}/{n + 1}" for n in range(step.repeats)]
        if all(one in done for one in ids):
            found.add((at // across, at % across))
    return frozenset(found)
