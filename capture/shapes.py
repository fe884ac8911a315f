"""Quantities of form and fit computed from measured sizes: mean, range, taper, out-of-round,
cylindricity, clearance, end float, oil clearance from parts, and limits that follow a size.

All sizes of one call are in one unit, and so is the answer. Arithmetic is exact: nothing is
rounded before subtracting. Sizes by point come in the order of the characteristic's points, first
depth first. Every function raises ValueError where the sizes it was given cannot say.

Rules after engine service manuals' inspection of bores and journals (tests/outside/test_geometry).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Final, NamedTuple

from capture.quantity import Number, exact
from capture.spec.model import Basis, Limits, Point

PI: Final = Fraction("3.14159265358979323846264338327950288419716939937510").limit_denominator(
    10**20
)
"""π within 10⁻⁴⁰. A ratio whose decimals do not end, so that what is computed with it is shown
to twelve digits and never to the fifty it happens to have."""

_TWELFTH: Final = 10**12


class Form(NamedTuple):
    """A departure from a true cylinder, and where it lies."""

    value: Number
    """Signed for a taper, else not negative."""
    line: str
    """The axis along which (taper, cylindricity) or the depth at which (out-of-round) it was
    found: the worst one, the first of equals."""
    larger: str
    """The depth, or for out-of-round the axis, where the size is largest; empty where no size on
    the line differs from another."""
    smaller: str
    """Where it is smallest; empty as above."""


class Fit(NamedTuple):
    """The room between two parts over all their sizes; negative is an interference."""

    least: Number
    mean: Number
    greatest: Number


class EndFloat(NamedTuple):
    """How far a shaft moves along its axis."""

    value: Number
    spread: Number
    """The larger spread of the repeats at one end: a shaft not pushed home shows here."""


def mean(sizes: Sequence[Number]) -> Number:
    """The arithmetic mean of at least one size."""
    return exact(_mean(sizes))


def size_range(sizes: Sequence[Number]) -> Number:
    """Largest less smallest of at least one size."""
    if not sizes:
        raise ValueError("a range takes at least one size")
    return exact(_spread(sizes))


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
    return taper_end(sizes).value


def taper_end(sizes: Mapping[Point, Number]) -> Form:
    """The taper (see ``taper``), its axis, and which end is larger."""
    ends = {
        axis: (line[0], line[-1])
        for axis, line in _lines(sizes, by_axis=True).items()
        if len(line) > 1
    }
    if not ends:
        raise ValueError("taper takes sizes at two depths or more along one axis")
    drops = {axis: Fraction(first[1]) - Fraction(last[1]) for axis, (first, last) in ends.items()}
    axis = max(drops, key=lambda one: abs(drops[one]))
    (first, _), (last, _) = ends[axis]
    drop = drops[axis]
    if not drop:
        return Form(exact(drop), axis, "", "")
    larger, smaller = (first, last) if drop > 0 else (last, first)
    return Form(exact(drop), axis, larger.depth, smaller.depth)


def out_of_round(sizes: Mapping[Point, Number]) -> Number:
    """Largest less smallest size at one depth, at the depth where that is largest.

    At least one depth must have been measured along two axes.
    """
    return out_of_round_direction(sizes).value


def out_of_round_direction(sizes: Mapping[Point, Number]) -> Form:
    """The out-of-round (see ``out_of_round``), its depth, and the axis along which the size is
    larger: across or along the split of a bearing, thrust or pin direction of a bore."""
    worst = _worst(sizes, by_axis=False)
    if worst is None:
        raise ValueError("out-of-round takes sizes along two axes or more at one depth")
    return worst


def cylindricity(sizes: Mapping[Point, Number]) -> Number:
    """Largest less smallest size along one axis, on the axis where that is largest: a barrel or a
    waist shows here and not in the taper.

    This is the service manuals' two-point measure on diameters, not the minimum-zone cylindricity
    of ISO 1101. At least one axis must have been measured at two depths.
    """
    return cylindricity_depths(sizes).value


def cylindricity_depths(sizes: Mapping[Point, Number]) -> Form:
    """The cylindricity (see ``cylindricity``), its axis, and the depths that give it."""
    worst = _worst(sizes, by_axis=True)
    if worst is None:
        raise ValueError("cylindricity takes sizes at two depths or more along one axis")
    return worst


def clearance(outer: Sequence[Number], inner: Sequence[Number], basis: Basis) -> Number:
    """Room between two parts, diameter less diameter; negative is an interference.

    ``mean``: mean of the outer less mean of the inner. ``least``: smallest outer less largest
    inner. ``greatest``: largest outer less smallest inner. At least one size of each.
    """
    if basis is Basis.MEAN:
        return exact(_mean(outer) - _mean(inner))
    if not outer or not inner:
        raise ValueError("a clearance takes at least one size of each part")
    if basis is Basis.LEAST:
        return exact(Fraction(min(outer)) - Fraction(max(inner)))
    return exact(Fraction(max(outer)) - Fraction(min(inner)))


def fit(outer: Sequence[Number], inner: Sequence[Number]) -> Fit:
    """Least, mean and greatest clearance of a pair; at least one size of each."""
    return Fit(
        clearance(outer, inner, Basis.LEAST),
        clearance(outer, inner, Basis.MEAN),
        clearance(outer, inner, Basis.GREATEST),
    )


def clearance_at(
    outer: Mapping[Point, Number], inner: Mapping[Point, Number]
) -> dict[Point, Number]:
    """The clearance at each measured point, in the outer's order.

    Sizes meet where their points are the same. A part measured at one point only stands for every
    point of the other (a piston at its gauge point, in a bore of six); a point without a depth
    stands for every depth along its axis, and one without an axis for every axis at its depth.
    Raises ValueError where no point of one meets a point of the other.
    """
    found: dict[Point, Number] = {}
    for here, large in outer.items():
        for there, small in inner.items():
            point = _meeting(here, there, len(outer), len(inner))
            if point is not None and (point not in found or here == there):
                found[point] = exact(Fraction(large) - Fraction(small))
    if not found:
        raise ValueError(
            "the two parts were measured at no point in common: give their points the same depths "
            "and axes, or measure one of them at a single point"
        )
    return found


def oil_clearance(housing: Number, shells: Sequence[Number], journal: Number) -> Number:
    """Room for oil: housing bore less its two shells' walls less the journal, all measured square
    to the split. ``shells`` are the wall thicknesses of the upper and the lower shell."""
    if len(shells) != 2:
        raise ValueError(f"a bearing has two shells: {len(shells)} wall thicknesses were given")
    return exact(Fraction(housing) - sum(Fraction(wall) for wall in shells) - Fraction(journal))


def end_float(forward: Sequence[Number], rearward: Sequence[Number]) -> EndFloat:
    """How far a shaft moves along its axis, from an indicator's readings with the shaft pushed
    home forward, and then rearward: the difference of their means, without sign."""
    if not forward or not rearward:
        raise ValueError("end float takes at least one reading pushed forward and one rearward")
    value = abs(_mean(forward) - _mean(rearward))
    return EndFloat(exact(value), exact(max(_spread(forward), _spread(rearward))))


def limit_by_rate(size: Number, rate: Number, added: Number = Decimal(0)) -> Number:
    """A limit stated per unit of size (wear per inch of bore): size × rate, plus what is added."""
    return exact(Fraction(size) * Fraction(rate) + Fraction(added))


def limits_by_factor(
    size: Number, lower_factor: Number | None, upper_factor: Number | None
) -> Limits:
    """Limits that are a measured size times a factor: a ring's end gap by its own bore.

    A limit whose decimals do not end is rounded inward at the twelfth decimal. Raises ValueError
    where the size is not positive, a factor is negative or the factors are the wrong way round.
    """
    if size <= 0:
        raise ValueError("limits by a factor take a size above zero")
    factors = [None if one is None else Fraction(one) for one in (lower_factor, upper_factor)]
    lower, upper = factors
    if any(one is not None and one < 0 for one in factors):
        raise ValueError("a factor of a limit is not negative")
    if lower is not None and upper is not None and lower > upper:
        raise ValueError("the lower factor is above the upper one: exchange them")
    whole = Fraction(size)
    return Limits(
        None if lower is None else _ended(whole * lower, math.ceil),
        None if upper is None else _ended(whole * upper, math.floor),
    )


def gap_change(bore_change: Number) -> Number:
    """How much a ring's end gap changes when its bore does: π × the change of diameter.

    The ring's own length stays; the bore's circumference grows by π for every unit of diameter.
    """
    return exact(PI * Fraction(bore_change))


def _ended(limit: Fraction, inward: Callable[[Fraction], int]) -> Decimal:
    """``limit`` as a Decimal, rounded only where its decimals do not end.

    Ties stay inside: a reading is a finite decimal and never equals a limit that does not end, so
    rounding that limit moves no tie; a limit that ends is not rounded at all.
    """
    ended = exact(limit)
    if not isinstance(ended, Decimal):
        ended = exact(Fraction(inward(limit * _TWELFTH), _TWELFTH))
    assert isinstance(ended, Decimal)
    return ended


def _meeting(one: Point, other: Point, ones: int, others: int) -> Point | None:
    """Where the sizes at two points meet; None where they do not."""
    if others == 1 and one != Point():
        return one
    if ones == 1 and other != Point():
        return other
    depths, axes = {one.depth, other.depth} - {""}, {one.axis, other.axis} - {""}
    if len(depths) > 1 or len(axes) > 1:
        return None
    return Point("".join(depths), "".join(axes))


def _mean(sizes: Sequence[Number]) -> Fraction:
    if not sizes:
        raise ValueError("a mean takes at least one size")
    return sum((Fraction(size) for size in sizes), Fraction(0)) / len(sizes)


def _spread(sizes: Sequence[Number]) -> Fraction:
    return Fraction(max(sizes)) - Fraction(min(sizes))


def _worst(sizes: Mapping[Point, Number], *, by_axis: bool) -> Form | None:
    """The largest spread on one line, the first of equals; None where no line has two sizes."""
    worst: tuple[Fraction, str, Point, Point] | None = None
    for name, line in _lines(sizes, by_axis=by_axis).items():
        if len(line) > 1:
            high, low = max(line, key=_size_of), min(line, key=_size_of)
            spread = Fraction(high[1]) - Fraction(low[1])
            if worst is None or spread > worst[0]:
                worst = spread, name, high[0], low[0]
    if worst is None:
        return None
    spread, name, larger, smaller = worst
    if not spread:
        return Form(exact(spread), name, "", "")
    if by_axis:
        return Form(exact(spread), name, larger.depth, smaller.depth)
    return Form(exact(spread), name, larger.axis, smaller.axis)


def _size_of(pair: tuple[Point, Number]) -> Number:
    return pair[1]


def _lines(
    sizes: Mapping[Point, Number], *, by_axis: bool
) -> dict[str, list[tuple[Point, Number]]]:
    """Sizes that share an axis (or a depth), each list in the order given."""
    lines: dict[str, list[tuple[Point, Number]]] = {}
    for point, size in sizes.items():
        lines.setdefault(point.axis if by_axis else point.depth, []).append((point, size))
    return lines
