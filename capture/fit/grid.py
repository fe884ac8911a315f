"""Every outer against every inner, in whole steps."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from capture.fit.band import Band
from capture.fit.matching import array
from capture.fit.whole import Key, by_size, step_of, steps
from capture.quantity import Number

Sizes = Mapping[int, Number] | Mapping[str, Number] | Mapping[Key, Number]
"""Measured size by part, all in one unit."""
Forbidden = Collection[tuple[Key, Key]]
"""Pairs (outer, inner) that must not be: a piston of the other bank."""


def keyed(sizes: Sizes) -> dict[Key, Number]:
    """The same, whatever its parts are called."""
    found: dict[Key, Number] = {}
    found.update(sizes.items())
    return found


class Grid:
    """Rows are outers and columns inners, small to large."""

    def __init__(
        self,
        outers: Mapping[Key, Number],
        inners: Mapping[Key, Number],
        others: Collection[Number | None],
        forbidden: Forbidden,
    ) -> None:
        """``others`` are further values that must be whole numbers of the step."""
        import numpy as np

        self.rows, self.columns = by_size(outers), by_size(inners)
        self.step = step_of(list(outers.values()), list(inners.values()), list(others))
        tall = [steps(outers[key], self.step) for key in self.rows]
        wide = [steps(inners[key], self.step) for key in self.columns]
        rest = [steps(value, self.step) for value in others if value is not None]
        kind = array([*tall, *wide, *rest]).dtype
        self.clearance: Any = np.subtract.outer(np.array(tall, kind), np.array(wide, kind))
        self.allowed: Any = np.ones(self.clearance.shape, dtype=bool)
        for outer, inner in forbidden:
            if outer in outers and inner in inners:
                self.allowed[self.rows.index(outer), self.columns.index(inner)] = False

    def whole(self, value: Number) -> int:
        return steps(value, self.step)

    def within(self, clearance: Any, band: Band) -> Any:
        """Which of these clearances lie in the band, pairs that must not be left out."""
        held = self.allowed.copy()
        if band.lower is not None:
            held &= clearance >= self.whole(band.lower)
        if band.upper is not None:
            held &= clearance <= self.whole(band.upper)
        return held

    def keys(self, pairs: list[tuple[int, int]]) -> dict[Key, Key]:
        """Inner by outer, of places in the grid."""
        return {self.rows[row]: self.columns[column] for row, column in pairs}
