"""Where the names of points stand: above the picture, each beside a line down to its point."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from api.pictures.svg import width


class Flag(NamedTuple):
    """A name at the top of a line that stands at ``x``."""

    x: float
    label: str
    row: int
    """0 is nearest to the picture; below 0 there is no room for the name."""
    left: bool
    """The name stands to the left of the line."""


def flags(
    points: Sequence[tuple[float, str]], size: float, right: float, most: int | None = None
) -> list[Flag]:
    """Rows for names of points, in the points' order, so that no two lie on one another.

    From right to left each takes the lowest row in which its name clears the lines and names of
    those to its right; names that would reach beyond ``right`` stand to the left of their line, and
    are placed over all others. With ``most`` rows, what would stand higher has no name.
    """
    placed: dict[int, Flag] = {}
    order = sorted(range(len(points)), key=lambda n: (-points[n][0], -n))
    fits = [n for n in order if points[n][0] + _reach(points[n][1], size) <= right]
    for n in fits + [n for n in order if n not in fits]:
        x, label = points[n]
        left = n not in fits
        ends = (x - _reach(label, size), x) if left else (x, x + _reach(label, size))
        named = (one for one in placed.values() if one.row >= 0)
        row = max((one.row for one in named if _meets(one, ends, size)), default=-1) + 1
        placed[n] = Flag(x, label, row if most is None or row < most else -1, left)
    return [placed[n] for n in range(len(points))]


def _reach(label: str, size: float) -> float:
    return width(label, size) + size


def _meets(one: Flag, ends: tuple[float, float], size: float) -> bool:
    reach = _reach(one.label, size)
    low, high = (one.x - reach, one.x) if one.left else (one.x, one.x + reach)
    return low <= ends[1] and ends[0] <= high
