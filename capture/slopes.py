"""How quantities of form and fit follow the sizes they are computed from.

The derivative of each (exact) by every size that goes in, with zero for one that does not decide:
a taper follows the two ends of one axis, a least clearance the smallest outer and the largest
inner size. Rules and ties as in ``capture.shapes``; of sizes that are equal the first is taken for
the largest and the last for the smallest, so that a spread of nothing still follows two sizes.
All of them are linear in the sizes that decide: slopes times sizes is the quantity.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from fractions import Fraction
from typing import TypeVar

from capture.quantity import Number
from capture.spec.model import Basis, Point

Slope = Fraction | int
Key = TypeVar("Key", bound=Hashable)


def mean(count: int) -> Slope:
    """By each of ``count`` sizes, alike."""
    return Fraction(1, count)


def taper(sizes: Mapping[Point, Number]) -> dict[Point, Slope]:
    """Of ``shapes.taper``: the first less the last depth of the axis that decides."""
    lines = _lines(sizes, by_axis=True)
    return _difference(sizes, _widest(sizes, ((line[0], line[-1]) for line in lines)))


def out_of_round(sizes: Mapping[Point, Number]) -> dict[Point, Slope]:
    """Of ``shapes.out_of_round``: largest less smallest at the depth that decides."""
    return _difference(sizes, _widest(sizes, _extremes(sizes, by_axis=False)))


def cylindricity(sizes: Mapping[Point, Number]) -> dict[Point, Slope]:
    """Of ``shapes.cylindricity``: largest less smallest along the axis that decides."""
    return _difference(sizes, _widest(sizes, _extremes(sizes, by_axis=True)))


def clearance(
    outer: Mapping[Key, Number], inner: Mapping[Key, Number], basis: Basis
) -> tuple[dict[Key, Slope], dict[Key, Slope]]:
    """Of ``shapes.clearance``: by each outer and by each inner size."""
    if basis is Basis.MEAN:
        return dict.fromkeys(outer, mean(len(outer))), dict.fromkeys(inner, -mean(len(inner)))
    least = basis is Basis.LEAST
    above, below = (_smallest, _largest) if least else (_largest, _smallest)
    return _only(outer, above(outer, outer), 1), _only(inner, below(inner, inner), -1)


def _extremes(sizes: Mapping[Point, Number], *, by_axis: bool) -> Iterable[tuple[Point, Point]]:
    """Largest and smallest on each line."""
    for line in _lines(sizes, by_axis=by_axis):
        yield _largest(sizes, line), _smallest(sizes, line)


def _widest(
    sizes: Mapping[Point, Number], ends: Iterable[tuple[Point, Point]]
) -> tuple[Point, Point]:
    """The ends furthest apart in size, the first of equals."""
    every = list(ends)
    if len(every) == 1:
        return every[0]
    return max(every, key=lambda end: abs(Fraction(sizes[end[0]]) - Fraction(sizes[end[1]])))


def _difference(sizes: Iterable[Point], ends: tuple[Point, Point]) -> dict[Point, Slope]:
    found: dict[Point, Slope] = dict.fromkeys(sizes, 0)
    found[ends[0]], found[ends[1]] = 1, -1
    return found


def _only(sizes: Iterable[Key], decides: Key, slope: int) -> dict[Key, Slope]:
    found: dict[Key, Slope] = dict.fromkeys(sizes, 0)
    found[decides] = slope
    return found


def _largest(sizes: Mapping[Key, Number], among: Iterable[Key]) -> Key:
    return max(among, key=sizes.__getitem__)


def _smallest(sizes: Mapping[Key, Number], among: Iterable[Key]) -> Key:
    return min(reversed(list(among)), key=sizes.__getitem__)


def _lines(sizes: Iterable[Point], *, by_axis: bool) -> list[list[Point]]:
    """Points that share an axis (or a depth), where there are several, in the order given."""
    lines: dict[str, list[Point]] = {}
    for point in sizes:
        lines.setdefault(point.axis if by_axis else point.depth, []).append(point)
    return [line for line in lines.values() if len(line) > 1]
