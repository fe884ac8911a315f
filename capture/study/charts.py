"""Control charts: mean and range, mean and standard deviation, individuals and moving range.

Limits stand three standard errors from the centre (ISO 7870-2, Shewhart charts; from memory), with
factors computed for the sample size. They say what the readings' own scatter explains; they are no
limits of size. A point on a limit is inside.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from capture.quantity import Number
from capture.study.constants import c4, chart_factors, d2
from capture.study.moments import mean, moments


class Chart(NamedTuple):
    """One chart, in the unit of the readings."""

    points: tuple[float, ...]
    centre: float
    lower: float
    upper: float
    outside: tuple[int, ...]
    """Numbers of the points outside, from 1."""


class Charts(NamedTuple):
    """A chart of where the readings lie and one of how they scatter."""

    location: Chart
    scatter: Chart
    standard_deviation: float
    """Of single readings, as the scatter inside the samples gives it."""


class ChartLimits(NamedTuple):
    """Limits of the two charts."""

    lower: float
    upper: float
    scatter_lower: float
    scatter_upper: float


def mean_and_range(samples: Sequence[Sequence[Number]]) -> Charts:
    """X̄ and R charts of samples of equal size, in order of time.

    Raises ValueError where there are fewer than two samples, or they are not all of one size of two
    or more.
    """
    size = _size(samples)
    means = [float(mean(sample)) for sample in samples]
    ranges = [float(Fraction(max(sample)) - Fraction(min(sample))) for sample in samples]
    centre, width = _grand(samples), math.fsum(ranges) / len(ranges)
    limits = mean_and_range_limits(centre, width, size)
    return _charts(means, ranges, centre, width, limits, width / d2(size))


def mean_and_range_limits(grand_mean: float, mean_range: float, size: int) -> ChartLimits:
    """Limits of X̄ and R charts from their centres, for samples of ``size``."""
    use = chart_factors(size)
    reach = use.a2 * mean_range
    return ChartLimits(
        grand_mean - reach, grand_mean + reach, use.d3 * mean_range, use.d4 * mean_range
    )


def mean_and_deviation(samples: Sequence[Sequence[Number]]) -> Charts:
    """X̄ and s charts of samples of equal size, in order of time. Raises ValueError as the above."""
    size = _size(samples)
    found = [moments(sample) for sample in samples]
    deviations = [one.standard_deviation for one in found]
    centre, width = _grand(samples), math.fsum(deviations) / len(deviations)
    limits = mean_and_deviation_limits(centre, width, size)
    means = [one.mean for one in found]
    return _charts(means, deviations, centre, width, limits, width / c4(size))


def mean_and_deviation_limits(grand_mean: float, mean_deviation: float, size: int) -> ChartLimits:
    """Limits of X̄ and s charts from their centres, for samples of ``size``."""
    use = chart_factors(size)
    reach = use.a3 * mean_deviation
    return ChartLimits(
        grand_mean - reach, grand_mean + reach, use.b3 * mean_deviation, use.b4 * mean_deviation
    )


def individuals(values: Sequence[Number]) -> Charts:
    """Individual values and their moving ranges of two, in order of time.

    The first moving range is that of the second value. Raises ValueError where there are fewer than
    three values.
    """
    if len(values) < 3:
        raise ValueError(f"A chart of individuals takes three values or more, not {len(values)}.")
    moving = [float(abs(Fraction(other) - Fraction(one))) for one, other in pairwise(values)]
    centre, width = float(mean(values)), math.fsum(moving) / len(moving)
    deviation = width / d2(2)
    limits = ChartLimits(
        centre - 3 * deviation,
        centre + 3 * deviation,
        chart_factors(2).d3 * width,
        chart_factors(2).d4 * width,
    )
    return _charts(list(map(float, values)), moving, centre, width, limits, deviation)


def _size(samples: Sequence[Sequence[Number]]) -> int:
    sizes = {len(sample) for sample in samples}
    if len(samples) < 2 or len(sizes) != 1 or min(sizes) < 2:
        raise ValueError(
            "A chart takes two samples or more, all of the same size of at least two readings."
        )
    return sizes.pop()


def _grand(samples: Sequence[Sequence[Number]]) -> float:
    return float(mean([value for sample in samples for value in sample]))


def _charts(
    location: list[float],
    scatter: list[float],
    centre: float,
    width: float,
    limits: ChartLimits,
    deviation: float,
) -> Charts:
    return Charts(
        _chart(location, centre, limits.lower, limits.upper),
        _chart(scatter, width, limits.scatter_lower, limits.scatter_upper),
        deviation,
    )


def _chart(points: list[float], centre: float, lower: float, upper: float) -> Chart:
    outside = tuple(at for at, point in enumerate(points, 1) if not lower <= point <= upper)
    return Chart(tuple(points), centre, lower, upper, outside)
