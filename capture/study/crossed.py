"""Variation of a gauge from analysis of variance: every component with its confidence interval.

Random effects throughout: the samples and appraisers stand for others like them. Variance
components from the expected mean squares (Montgomery, *Design and Analysis of Experiments*, chapter
on random factors; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from capture.quantity import Number
from capture.study.anova import Line, OneWay, TwoWay, one_way
from capture.study.component import USUAL, Estimate, Variation, Wanted, variation
from capture.study.interval import Interval, Term, interval, satterthwaite, total
from capture.study.moments import squares


class Between(NamedTuple):
    """Variance components of groups of readings."""

    between: Estimate
    within: Estimate


def with_interaction(table: TwoWay, wanted: Wanted = USUAL) -> Variation:
    """Every part, the interaction too, each with its interval."""
    a, p, r = table.shape
    appraiser, sample, both, repeat = table.appraiser, table.sample, table.interaction, table.repeat
    parts = {
        "repeatability": [_term(1, repeat)],
        "between_appraisers": [_term(1 / (p * r), appraiser), _term(-1 / (p * r), both)],
        "interaction": [_term(1 / r, both), _term(-1 / r, repeat)],
        "gauge": [
            _term(1 / (p * r), appraiser),
            _term((p - 1) / (p * r), both),
            _term((r - 1) / r, repeat),
        ],
        "between_samples": [_term(1 / (a * r), sample), _term(-1 / (a * r), both)],
        "total": [
            _term(1 / (a * r), sample),
            _term(1 / (p * r), appraiser),
            _term((a * p - a - p) / (a * p * r), both),
            _term((r - 1) / r, repeat),
        ],
    }
    return variation(_estimates(parts, wanted.level), wanted)


def without_interaction(table: TwoWay, wanted: Wanted = USUAL) -> Variation:
    """Every part where interaction and repeat are pooled, each with its interval."""
    a, p, r = table.shape
    appraiser, sample, pooled = table.appraiser, table.sample, table.pooled
    parts = {
        "repeatability": [_term(1, pooled)],
        "between_appraisers": [_term(1 / (p * r), appraiser), _term(-1 / (p * r), pooled)],
        "gauge": [_term(1 / (p * r), appraiser), _term((p * r - 1) / (p * r), pooled)],
        "between_samples": [_term(1 / (a * r), sample), _term(-1 / (a * r), pooled)],
        "total": [
            _term(1 / (a * r), sample),
            _term(1 / (p * r), appraiser),
            _term((a * p * r - a - p) / (a * p * r), pooled),
        ],
    }
    return variation(_estimates(parts, wanted.level), wanted)


def one_appraiser(table: OneWay, wanted: Wanted = USUAL) -> Variation:
    """The parts of samples that one appraiser measured: the gauge's are repeatability alone.

    Raises ValueError unless every sample was measured equally often.
    """
    found = components(table, wanted.level)
    both = [_term(1 / table.size, table.between), _term(1 - 1 / table.size, table.within)]
    whole = _moved(_estimates({"both": both}, wanted.level)["both"], _sum(found))
    return variation(
        {
            "repeatability": found.within,
            "gauge": found.within,
            "between_samples": found.between,
            "total": whole,
        },
        wanted,
    )


def one_sample(cells: Sequence[Sequence[Number]], wanted: Wanted = USUAL) -> Variation:
    """The gauge's own parts from a single sample, by appraiser.

    There is no sample variation to compare them with, hence no share of a total. Raises ValueError
    unless there are two trials or more, the same for every appraiser.
    """
    if len(cells) == 1:
        (values,) = cells
        if len(values) < 2:
            raise ValueError("Repeatability takes two trials or more.")
        freedom = len(values) - 1
        line = Line("repeat", 0.0, freedom, float(squares(values) / freedom))
        only = _estimates({"repeatability": [_term(1, line)]}, wanted.level)["repeatability"]
        return variation({"repeatability": only, "gauge": only}, wanted)
    table = one_way(cells)
    found = components(table, wanted.level)
    both = [_term(1 / table.size, table.between), _term(1 - 1 / table.size, table.within)]
    gauge = _moved(_estimates({"both": both}, wanted.level)["both"], _sum(found))
    return variation(
        {"repeatability": found.within, "between_appraisers": found.between, "gauge": gauge}, wanted
    )


def components(table: OneWay, level: float = 0.95) -> Between:
    """Variance components of groups, between and within, with their intervals.

    Raises ValueError where the groups differ in size: the intervals hold for equal ones only.
    """
    if not table.balanced:
        raise ValueError(
            "Variance components are given for groups of equal size: measure every one equally "
            "often."
        )
    n = table.size
    parts = {
        "between": [_term(1 / n, table.between), _term(-1 / n, table.within)],
        "within": [_term(1, table.within)],
    }
    return Between(**_estimates(parts, level))


def _sum(found: Between) -> float:
    """The two components together, a negative one counted as 0."""
    return max(0.0, found.between.variance) + found.within.variance


def _term(factor: float, line: Line) -> Term:
    return Term(factor, line.mean_square, line.degrees_of_freedom)


def _estimates(parts: dict[str, list[Term]], level: float) -> dict[str, Estimate]:
    """The components with their intervals; gauge and total are the sums of their parts as
    estimated, so that a part estimated as negative counts as 0 in them too."""
    found = {
        name: Estimate(total(terms), interval(terms, level), satterthwaite(terms))
        for name, terms in parts.items()
    }
    for name, members in (
        ("gauge", ("repeatability", "between_appraisers", "interaction")),
        ("total", ("gauge", "between_samples")),
    ):
        if name in found:
            of = [max(0.0, found[member].variance) for member in members if member in found]
            found[name] = _moved(found[name], sum(of))
    return found


def _moved(estimate: Estimate, variance: float) -> Estimate:
    """With the variance a sum of parts came to; the interval is widened to reach it."""
    assert estimate.interval is not None
    low, high = estimate.interval
    ends = Interval(min(low, variance), max(high, variance))
    return estimate._replace(variance=variance, interval=ends)
