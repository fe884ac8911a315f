"""The top of the block: deck clearance by a stack of parts and by a bridge over the piston, and the
flatness of a face.

All lengths of one call are in one unit, and so is the answer; arithmetic is exact. Deck clearance
is positive where the piston at top dead centre stands below the deck.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple

from capture.quantity import Number, exact


class Stack(NamedTuple):
    """The parts between the crank's axis and the deck."""

    block_height: Number
    """From the main bores' axis to the deck, square to the deck."""
    crank_radius: Number
    """Half the stroke."""
    rod_length: Number
    """Between centres."""
    compression_height: Number
    """From the pin's axis to the flat of the crown."""


class BridgeReadings(NamedTuple):
    """A dial bridge zeroed on the deck, read at four points of the crown: two on the pin's axis,
    two across it. Each pair stands equally far from the middle. Positive is below the deck."""

    front: Number
    """On the pin's axis, toward the front of the engine."""
    rear: Number
    """On the pin's axis, toward the rear."""
    thrust: Number
    """Across the pin, on the thrust side."""
    opposite: Number
    """Across the pin, on the other side."""


class Bridge(NamedTuple):
    """What four readings say."""

    clearance: Number
    """Deck clearance at the middle of the crown: mean of the four, so that rock is averaged out."""
    rock_along: Number
    """Front less rear: positive is lower at the front. A rod or bore out of square."""
    rock_across: Number
    """Thrust side less the other: positive is lower on the thrust side. The piston rocks about its
    pin by this much in its clearance."""
    disagreement: Number
    """Middle by the pair on the pin less middle by the pair across it. A flat crown gives zero
    however it is tilted: what is left is one reading gone wrong, or a crown that is not flat."""
    highest: str
    """The reading nearest to coming out of the bore; the first of equals."""
    lowest: str


class Flatness(NamedTuple):
    """The flatness of a face, and between which places."""

    value: Number
    highest: str
    """The place that stands highest over the reference."""
    lowest: str


class Tilt(NamedTuple):
    """A plane: height = ``at_origin`` + ``along_x`` · x + ``along_y`` · y."""

    at_origin: Fraction
    along_x: Fraction
    along_y: Fraction


def deck_clearance(stack: Stack) -> Number:
    """Block height less crank radius, rod length and compression height; negative where the piston
    stands out of the block."""
    return exact(Fraction(stack.block_height) - _sum(stack[1:]))


def rod_length(
    block_height: Number, crank_radius: Number, compression_height: Number, clearance: Number
) -> Number:
    """The rod that gives a wanted deck clearance."""
    return exact(Fraction(block_height) - _sum((crank_radius, compression_height, clearance)))


def compression_height(
    block_height: Number, crank_radius: Number, rod: Number, clearance: Number
) -> Number:
    """The compression height that gives a wanted deck clearance with a rod of length ``rod``."""
    return exact(Fraction(block_height) - _sum((crank_radius, rod, clearance)))


def block_height(
    crank_radius: Number, rod: Number, compression: Number, clearance: Number
) -> Number:
    """The block height that gives a wanted deck clearance; what is measured less this is to be
    taken off the deck."""
    return exact(_sum((crank_radius, rod, compression, clearance)))


def bridge(readings: BridgeReadings) -> Bridge:
    """Deck clearance with the piston's rock averaged out, and the rock each way."""
    front, rear, thrust, opposite = (Fraction(reading) for reading in readings)
    named = dict(zip(BridgeReadings._fields, readings, strict=True))
    return Bridge(
        clearance=exact((front + rear + thrust + opposite) / 4),
        rock_along=exact(front - rear),
        rock_across=exact(thrust - opposite),
        disagreement=exact((front + rear) / 2 - (thrust + opposite) / 2),
        highest=min(named, key=lambda name: named[name]),
        lowest=max(named, key=lambda name: named[name]),
    )


def flatness_by_feeler(gaps: Mapping[str, Number]) -> tuple[Number, str]:
    """The largest gap under a straight edge, and where: line or place → the thickest leaf that went
    in there (0 where none did). The first of equals."""
    if not gaps:
        raise ValueError("flatness by feeler takes a gap along at least one line")
    if any(gap < 0 for gap in gaps.values()):
        raise ValueError("a gap under a straight edge is not negative")
    place = max(gaps, key=lambda name: gaps[name])
    return exact(gaps[place]), place


def flatness_of_grid(heights: Mapping[str, tuple[Number, Number, Number]]) -> Flatness:
    """Peak-to-valley flatness about the least-squares plane, of heights over a face: place → x, y,
    height. Heights may be in another unit than x and y; the answer is in theirs.

    This is FLTt of ISO 12781-1 with the least-squares reference plane (names from memory); the
    minimum zone of ISO 1101 is never larger: see ``least_zone``. Distances are taken along the
    height, which differs from square to the plane by a part in a million at a tilt of 1.4 mm per
    metre. Raises ValueError with fewer than three places, or all on one line.
    """
    stands = _over_plane(heights)
    high = max(stands, key=lambda name: stands[name])
    low = min(stands, key=lambda name: stands[name])
    return Flatness(exact(stands[high] - stands[low]), high, low)


def least_squares_plane(points: Sequence[tuple[Number, Number, Number]]) -> Tilt:
    """The plane with the least sum of squared distances along the height, exactly.

    Raises ValueError where the points do not span a plane.
    """
    if len(points) < 3:
        raise ValueError("a plane takes heights at three places or more")
    rows = [(Fraction(x), Fraction(y), Fraction(z)) for x, y, z in points]
    middle = [sum(column) / len(rows) for column in zip(*rows, strict=True)]
    around = [[value - centre for value, centre in zip(row, middle, strict=True)] for row in rows]
    xx, xy, yy, xz, yz = (
        sum(row[i] * row[j] for row in around) for i, j in ((0, 0), (0, 1), (1, 1), (0, 2), (1, 2))
    )
    determinant = xx * yy - xy * xy
    if not determinant:
        raise ValueError("the places stand on one line: a plane takes places across it too")
    along_x = (xz * yy - yz * xy) / determinant
    along_y = (yz * xx - xz * xy) / determinant
    return Tilt(middle[2] - along_x * middle[0] - along_y * middle[1], along_x, along_y)


def least_zone(heights: Mapping[str, tuple[Number, Number, Number]]) -> float:
    """Minimum-zone flatness (ISO 1101): the least distance, along the height, between two parallel
    planes that hold every place between them. Units and errors as ``flatness_of_grid``.

    A linear programme over what stands out of the least-squares plane; a float, because the solver
    works in floats, good to about a millionth of the answer.
    """
    from scipy.optimize import linprog

    stands = _over_plane(heights)
    largest = max(map(abs, stands.values()))
    if not largest:
        return 0.0
    # Heights, and x and y about their middle, are brought to about 1: the solver's tolerances are
    # absolute and would otherwise mean something else in inches than in millimetres.
    xs = _to_one([Fraction(x) for x, _, _ in heights.values()])
    ys = _to_one([Fraction(y) for _, y, _ in heights.values()])
    rows, bounds = [], []
    for x, y, height in zip(xs, ys, stands.values(), strict=True):
        rows += [[1.0, x, y, -1.0], [-1.0, -x, -y, -1.0]]
        bounds += [float(height / largest), float(-height / largest)]
    free = (None, None)
    found = linprog([0, 0, 0, 2], A_ub=rows, b_ub=bounds, bounds=[free, free, free, (0, None)])
    if not found.success:
        raise ValueError(f"the minimum zone was not found: {found.message}")
    return float(found.fun) * float(largest)


def _over_plane(heights: Mapping[str, tuple[Number, Number, Number]]) -> dict[str, Fraction]:
    """How far each place stands over the least-squares plane of them all."""
    plane = least_squares_plane(list(heights.values()))
    return {
        place: Fraction(z)
        - (plane.at_origin + plane.along_x * Fraction(x) + plane.along_y * Fraction(y))
        for place, (x, y, z) in heights.items()
    }


def _to_one(values: Sequence[Fraction]) -> list[float]:
    middle = sum(values, Fraction(0)) / len(values)
    largest = max(abs(value - middle) for value in values)
    return [float((value - middle) / largest) for value in values]


def _sum(lengths: Sequence[Number]) -> Fraction:
    return sum((Fraction(length) for length in lengths), Fraction(0))
