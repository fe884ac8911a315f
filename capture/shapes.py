"""Quantities of form and fit computed from measured sizes: mean, taper, out-of-round,
cylindricity, clearance.

All sizes of one call are in one unit, and so is the answer. Arithmetic is exact: nothing is
rounded before subtracting. Sizes by point come in the order of the characteristic's points, first
depth first. Every function raises ValueError where the sizes it was given cannot say.

Rules after engine service manuals' inspection of bores and journals (tests/outside/test_geometry).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction

from capture.quantity import Number, exact
from capture.spec.model import Basis, Point


def mean(sizes: Sequence[Number]) -> Number:
    """The arithmetic mean of at least one size."""
    return exact(_mean(sizes))


def deviation_to_size(standard: Number, deviation: Number) -> Number:
    """The size a comparative gauge found: its setting standard plus what it reads.

    A contact pushed in less than on the standard reads negative in a bore: a smaller bore.
    """
    return exact(Fraction(standard) + Fraction(deviation))


def taper(sizes: Mapping[Point, Number]) -> Number:
    """First depth minus last depth along one axis, where that is largest in magnitude.

    Positive is larger at the first depth. Where two axes have the same magnitude the first one
    gives the sign. At least one axis must have been measured at two depths.
    """
    along = [
        Fraction(line[0]) - Fraction(line[-1])
        for line in _lines(sizes, by_axis=True)
        if len(line) > 1
    ]
    if not along:
        raise ValueError("taper takes sizes at two depths or more along one axis")
    return exact(max(along, key=abs))


def out_of_round(sizes: Mapping[Point, Number]) -> Number:
    """Largest less smallest size at one depth, at the depth where that is largest.

    At least one depth must have been measured along two axes.
    """
    spreads = [_spread(line) for line in _lines(sizes, by_axis=False) if len(line) > 1]
    if not spreads:
        raise ValueError("out-of-round takes sizes along two axes or more at one depth")
    return exact(max(spreads))


def cylindricity(sizes: Mapping[Point, Number]) -> Number:
    """Largest less smallest size along one axis, on the axis where that is largest: a barrel or a
    waist shows here and not in the taper.

    This is the service manuals' two-point measure on diameters, not the minimum-zone cylindricity
    of ISO 1101. At least one axis must have been measured at two depths.
    """
    spreads = [_spread(line) for line in _lines(sizes, by_axis=True) if len(line) > 1]
    if not spreads:
        raise ValueError("cylindricity takes sizes at two depths or more along one axis")
    return exact(max(spreads))


def clearance(outer: Sequence[Number], inner: Sequence[Number], basis: Basis) -> Number:
    """Room between two parts, diameter less diameter; negative is an interference.

    ``mean``: mean of the outer less mean of the inner. ``least``: smallest outer less largest
    inner. At least one size of each.
    """
    if basis is Basis.MEAN:
        return exact(_mean(outer) - _mean(inner))
    if not outer or not inner:
        raise ValueError("a clearance takes at least one size of each part")
    return exact(Fraction(min(outer)) - Fraction(max(inner)))


def _mean(sizes: Sequence[Number]) -> Fraction:
    if not sizes:
        raise ValueError("a mean takes at least one size")
    return sum((Fraction(size) for size in sizes), Fraction(0)) / len(sizes)


def _spread(sizes: Sequence[Number]) -> Fraction:
    return Fraction(max(sizes)) - Fraction(min(sizes))


def _lines(sizes: Mapping[Point, Number], *, by_axis: bool) -> Iterable[list[Number]]:
    """Sizes that share an axis (or a depth), each list in the order given."""
    lines: dict[str, list[Number]] = {}
    for point, size in sizes.items():
        lines.setdefault(point.axis if by_axis else point.depth, []).append(size)
    return lines.values()
