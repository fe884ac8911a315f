"""Bias of a gauge at known sizes, and its linearity over them.

Bias at one reference: the mean of reading − reference, with the interval of Student's t.
Linearity: the straight line through the biases by least squares, with its confidence band (AIAG,
*Measurement Systems Analysis*, 4th ed., chapter III, section B; method from memory). Where zero
lies inside, the study shows no bias; it does not prove that there is none.

The uncertainty of the reference itself is not in these intervals.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from capture.quantity import Number
from capture.study.moments import moments, squares, whole
from capture.study.quantile import check_level, student, student_tails


class Bias(NamedTuple):
    """How far readings of one reference lie from it, on average; in their unit."""

    reference: float
    n: int
    bias: float
    standard_deviation: float
    low: float | None
    """Ends of the confidence interval of the bias; None of a single reading."""
    high: float | None
    p: float | None
    """How often chance alone would show as much without a bias; None where nothing varies."""
    zero_inside: bool | None


class Line(NamedTuple):
    """A straight line by least squares, y = intercept + slope × x."""

    n: int
    slope: float
    intercept: float
    slope_error: float
    """Standard error, as of the intercept."""
    intercept_error: float
    standard_deviation: float
    """Of the residuals, n − 2 degrees of freedom."""
    r_squared: float | None
    """None where y does not vary."""
    slope_p: float | None
    """How often chance alone would show as much without a slope; None where nothing varies."""
    intercept_p: float | None
    mean_x: float
    sum_of_squares_x: float

    @property
    def degrees_of_freedom(self) -> int:
        return self.n - 2


class BandPoint(NamedTuple):
    """The line at one reference, with its confidence band."""

    reference: float
    bias: float
    low: float
    high: float
    zero_inside: bool


class Linearity(NamedTuple):
    """The line of bias on reference."""

    line: Line
    slope_low: float
    slope_high: float
    intercept_low: float
    intercept_high: float
    band: tuple[BandPoint, ...]
    """At every reference, ascending."""
    zero_inside: bool
    """Zero lies inside the band at every reference."""


def bias(reference: Number, readings: Sequence[Number], level: float = 0.95) -> Bias:
    """Bias of the readings of one reference. Raises ValueError where there is no reading."""
    check_level(level)
    offsets = [Fraction(reading) - Fraction(reference) for reading in readings]
    n, middle, deviation = moments(offsets)
    if n < 2:
        return Bias(float(reference), n, middle, deviation, None, None, None, None)
    error = deviation / math.sqrt(n)
    reach = student((1 + level) / 2, n - 1) * error
    return Bias(
        float(reference),
        n,
        middle,
        deviation,
        middle - reach,
        middle + reach,
        _chance(middle, error, n - 1),
        abs(middle) <= reach,
    )


def fit(xs: Sequence[Number], ys: Sequence[Number]) -> Line:
    """The line of ys on xs, its sums exact.

    Raises ValueError where there are fewer than three points, xs and ys differ in number, or all x
    are the same.
    """
    n = len(xs)
    if n != len(ys) or n < 3:
        raise ValueError(f"A line takes three points or more, not {n} of x and {len(ys)} of y.")
    across = squares(xs)
    if not across:
        raise ValueError("A line takes references of different sizes: all are the same here.")
    up = squares(ys)
    (x, below_x), (y, below_y) = whole(xs), whole(ys)
    both = sum(one * other for one, other in zip(x, y, strict=True))
    product = Fraction(n * both - sum(x) * sum(y), n * below_x * below_y)
    slope = product / across
    mean_x, mean_y = Fraction(sum(x), n * below_x), Fraction(sum(y), n * below_y)
    intercept = mean_y - slope * mean_x
    rest = up - slope * product
    variance = rest / (n - 2)
    slope_error = math.sqrt(variance / across)
    intercept_error = math.sqrt(variance * (Fraction(1, n) + mean_x * mean_x / across))
    return Line(
        n,
        float(slope),
        float(intercept),
        slope_error,
        intercept_error,
        math.sqrt(variance),
        float(1 - rest / up) if up else None,
        _chance(float(slope), slope_error, n - 2),
        _chance(float(intercept), intercept_error, n - 2),
        float(mean_x),
        float(across),
    )


def linearity(
    references: Sequence[Number], readings: Sequence[Sequence[Number]], level: float = 0.95
) -> Linearity:
    """The line of bias on reference, every reading a point of it.

    Raises ValueError as ``fit`` does, or where references and groups of readings differ in number.
    """
    check_level(level)
    xs = [one for one, group in zip(references, readings, strict=True) for _ in group]
    ys = [
        Fraction(reading) - Fraction(one)
        for one, group in zip(references, readings, strict=True)
        for reading in group
    ]
    line = fit(xs, ys)
    points = tuple(band(line, float(one), level) for one in sorted(set(references)))
    reach = student((1 + level) / 2, line.degrees_of_freedom)
    slope, intercept = reach * line.slope_error, reach * line.intercept_error
    return Linearity(
        line,
        line.slope - slope,
        line.slope + slope,
        line.intercept - intercept,
        line.intercept + intercept,
        points,
        all(point.zero_inside for point in points),
    )


def band(line: Line, x: float, level: float = 0.95) -> BandPoint:
    """The line at x and the confidence interval of its mean there."""
    check_level(level)
    middle = line.intercept + line.slope * x
    share = 1 / line.n + (x - line.mean_x) ** 2 / line.sum_of_squares_x
    quantile = student((1 + level) / 2, line.degrees_of_freedom)
    reach = quantile * line.standard_deviation * math.sqrt(share)
    return BandPoint(x, middle, middle - reach, middle + reach, abs(middle) <= reach)


def _chance(size: float, error: float, df: int) -> float | None:
    if not error:
        return 0.0 if size else None
    return student_tails(size / error, df)
