"""The rules by which a point of a control chart stands out.

Three of those in ISO 7870-2 (Shewhart charts): a point beyond a control limit; seven in a row on
one side of the centre line; seven in a row that rise, or fall, without a break. From memory of the
standard, which leaves it to the user which rules to add. The rules on rows hold for points that
are independent and lie evenly about the centre: so not for ranges, and not for moving ranges.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

ROW = 7
"""Points in a row."""


class Signal(StrEnum):
    """Why a point stands out."""

    BEYOND = "beyond"
    SIDE = "side"
    TREND = "trend"


def signals(
    points: Sequence[float], centre: float, lower: float, upper: float, *, rows: bool
) -> list[tuple[Signal, ...]]:
    """For each point, in order, the rules it breaks. A point on a limit is inside; one on the
    centre line is on neither side. Of a row the seventh point and those after it are marked."""
    found: list[tuple[Signal, ...]] = []
    side = trend = 0  # how many so far, with the sign of the side or the direction
    for at, point in enumerate(points):
        side = _longer(side, _sign(point - centre), 1)
        trend = _longer(trend, _sign(point - points[at - 1]) if at else 0, 2)
        broken = []
        if not lower <= point <= upper:
            broken.append(Signal.BEYOND)
        if rows and abs(side) >= ROW:
            broken.append(Signal.SIDE)
        if rows and abs(trend) >= ROW:
            broken.append(Signal.TREND)
        found.append(tuple(broken))
    return found


def _longer(row: int, sign: int, first: int) -> int:
    """The row with one more point on this side, or a new one: its first step counts ``first``
    points (a rise has two ends)."""
    if sign and row * sign > 0:
        return row + sign
    return sign * first


def _sign(value: float) -> int:
    return (value > 0) - (value < 0)
