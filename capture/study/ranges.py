"""The average-and-range method of a gauge study, and its range chart.

After AIAG, *Measurement Systems Analysis*, 4th ed., chapter III: EV from the mean range of the
trials, AV from the range of the appraisers' means less the share of EV in it, PV from the range of
the samples' means. The factors K1, K2 and K3 are computed (``capture.study.constants``), not
tabulated. Ranges see no interaction: it hides in the others.
"""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from capture.study.anova import Cells, shape_of
from capture.study.component import USUAL, Estimate, Variation, Wanted, variation
from capture.study.constants import chart_factors, d2, d2_star, range_freedom
from capture.study.interval import Interval
from capture.study.moments import mean
from capture.study.quantile import check_level, chi_square


class RangeFactors(NamedTuple):
    """What ranges are multiplied with to give standard deviations."""

    factor_of_repeats: float
    """Of the mean range of the trials, 1/d2."""
    factor_of_appraisers: float | None
    """Of the range of the appraisers' means, 1/d2* of one range; None for a single appraiser."""
    factor_of_samples: float | None
    """Of the range of the samples' means, likewise."""


class OutOfControl(NamedTuple):
    """A cell whose range chance does not explain; counted from 0."""

    appraiser: int
    sample: int
    range: float


class RangeStudy(NamedTuple):
    """The method's figures on the way, in the unit of the readings."""

    mean_ranges: tuple[float, ...]
    """By appraiser."""
    appraiser_means: tuple[float, ...]
    sample_means: tuple[float, ...]
    grand_mean: float
    mean_range: float
    appraiser_difference: float
    """Largest appraiser mean less the smallest."""
    sample_range: float
    """Largest sample mean less the smallest."""
    factors: RangeFactors
    range_lower: float
    """Limits of the range chart, D3 and D4 times the mean range."""
    range_upper: float
    outside: tuple[OutOfControl, ...]
    mean_lower: float
    """Limits of the chart of means that repeatability alone would draw, A2."""
    mean_upper: float
    means_outside: int
    """Cells whose mean lies outside them: a gauge that tells the samples apart has many."""
    variation: Variation


def factors(appraisers: int, samples: int, trials: int) -> RangeFactors:
    """K1, K2 and K3 as reciprocals, for standard deviations (4th edition).

    Raises ValueError where there are fewer than two trials.
    """
    if trials < 2:
        raise ValueError("A range takes two trials or more.")
    return RangeFactors(
        1 / d2(trials),
        1 / d2_star(1, appraisers) if appraisers > 1 else None,
        1 / d2_star(1, samples) if samples > 1 else None,
    )


def range_study(
    cells: Cells,
    wanted: Wanted = USUAL,
    using: RangeFactors | None = None,
) -> RangeStudy:
    """The study by ranges. ``cells``: readings by appraiser, sample and trial.

    ``using``: other factors than the computed ones. Raises ValueError where there are fewer than
    two trials or readings are missing.
    """
    appraisers, samples, trials = shape_of(cells)
    found = using or factors(appraisers, samples, trials)
    ranges = [[Fraction(max(cell)) - Fraction(min(cell)) for cell in row] for row in cells]
    means = [[mean(cell) for cell in row] for row in cells]
    row_means = [sum(row) / samples for row in means]
    column_means = [sum(column) / appraisers for column in zip(*means, strict=True)]
    row_ranges = [sum(row) / samples for row in ranges]
    mean_range = float(sum(row_ranges) / appraisers)
    grand = float(sum(row_means) / appraisers)
    chart = chart_factors(trials)
    low, high = chart.d3 * mean_range, chart.d4 * mean_range
    reach = chart.a2 * mean_range
    between = float(max(row_means) - min(row_means))
    across = float(max(column_means) - min(column_means))
    return RangeStudy(
        mean_ranges=tuple(map(float, row_ranges)),
        appraiser_means=tuple(map(float, row_means)),
        sample_means=tuple(map(float, column_means)),
        grand_mean=grand,
        mean_range=mean_range,
        appraiser_difference=between,
        sample_range=across,
        factors=found,
        range_lower=low,
        range_upper=high,
        outside=tuple(
            OutOfControl(a, s, float(size))
            for a, row in enumerate(ranges)
            for s, size in enumerate(row)
            if not low <= size <= high
        ),
        mean_lower=grand - reach,
        mean_upper=grand + reach,
        means_outside=sum(not -reach <= one - grand <= reach for row in means for one in row),
        variation=_variation(
            mean_range, between, across, found, (appraisers, samples, trials), wanted
        ),
    )


def _variation(
    mean_range: float,
    between: float,
    across: float,
    using: RangeFactors,
    shape: tuple[int, int, int],
    wanted: Wanted,
) -> Variation:
    _, samples, trials = shape
    repeat = mean_range * using.factor_of_repeats
    estimates = {
        "repeatability": Estimate(repeat * repeat, *_freedom(mean_range, shape, wanted.level))
    }
    gauge = repeat * repeat
    if using.factor_of_appraisers is not None:
        appraisers = max(
            0.0, (between * using.factor_of_appraisers) ** 2 - repeat * repeat / (samples * trials)
        )
        estimates["between_appraisers"] = Estimate(appraisers)
        gauge += appraisers
    estimates["gauge"] = (
        Estimate(gauge) if using.factor_of_appraisers is not None else estimates["repeatability"]
    )
    if using.factor_of_samples is not None:
        between_samples = (across * using.factor_of_samples) ** 2
        estimates |= {
            "between_samples": Estimate(between_samples),
            "total": Estimate(gauge + between_samples),
        }
    return variation(estimates, wanted)


def _freedom(
    mean_range: float, shape: tuple[int, int, int], level: float
) -> tuple[Interval, float]:
    """The interval of EV² and its degrees of freedom, by Patnaik's approximation of ranges."""
    check_level(level)
    appraisers, samples, trials = shape
    star, freedom = range_freedom(appraisers * samples, trials)
    square = freedom * (mean_range / star) ** 2
    tail = (1 - level) / 2
    ends = square / chi_square(1 - tail, freedom), square / chi_square(tail, freedom)
    return Interval(*ends), freedom
