"""Intervals of a gauge study's components: against scipy, tables, and draws with known truth."""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np
import pytest
from scipy import stats

from capture.study.anova import two_way
from capture.study.constants import d2_star, range_freedom
from capture.study.crossed import with_interaction, without_interaction
from capture.study.interval import Term, interval, satterthwaite
from capture.study.ranges import range_study
from tests.outside.test_gauge_study import THERMAL


@pytest.mark.parametrize(
    ("groups", "size", "star", "freedom"),
    [
        *((1, 2, 1.41, 1.0), (1, 3, 1.91, 2.0), (1, 5, 2.48, 3.8), (1, 10, 3.18, 7.7)),
        (10, 3, 1.72, 18.4),
    ],
)
def test_mean_ranges_as_standard_deviations(
    groups: int, size: int, star: float, freedom: float
) -> None:
    """d2* and degrees of freedom of the mean of ranges, as tabulated by Duncan, *Quality Control
    and Industrial Statistics*, table D3 (from memory; two printed digits)."""
    assert d2_star(groups, size) == pytest.approx(star, abs=0.006)
    assert range_freedom(groups, size).degrees_of_freedom == pytest.approx(freedom, abs=0.06)


def test_interval_of_one_mean_square_is_that_of_chi_square() -> None:
    low, high = interval([Term(2.0, 3.0, 7)], 0.9)
    assert low == pytest.approx(2 * 3 * 7 / stats.chi2.ppf(0.95, 7))
    assert high == pytest.approx(2 * 3 * 7 / stats.chi2.ppf(0.05, 7))


@pytest.mark.parametrize(("above", "below"), [(2, 18), (9, 18), (9, 78), (1, 5), (30, 4)])
def test_interval_of_a_difference_reaches_zero_where_the_f_test_says(
    above: int, below: int
) -> None:
    """The interval excludes zero exactly where F exceeds its quantile (scipy.stats.f)."""
    edge = float(stats.f.ppf(0.975, above, below))
    for share, positive in ((0.999, False), (1.001, True)):
        terms = [Term(0.1, share * edge * 4, above), Term(-0.1, 4.0, below)]
        assert (interval(terms).low > 0) is positive
    edge = float(stats.f.ppf(0.025, above, below))
    for share, positive in ((0.999, False), (1.001, True)):
        terms = [Term(0.1, share * edge * 4, above), Term(-0.1, 4.0, below)]
        assert (interval(terms).high > 0) is positive


def test_interval_of_a_difference_is_exact_where_one_side_is_known() -> None:
    """With endless degrees of freedom on one side only the other is uncertain: χ² alone."""
    endless = 10**7
    few, many = 4 / stats.chi2.ppf(0.975, 4), 4 / stats.chi2.ppf(0.025, 4)
    got = interval([Term(0.5, 40.0, 4), Term(-0.5, 2.0, endless)])
    assert got == pytest.approx((20 * few - 1, 20 * many - 1), rel=0.002)
    got = interval([Term(0.5, 40.0, endless), Term(-0.5, 2.0, 4)])
    assert got == pytest.approx((20 - many, 20 - few), rel=0.002)


@pytest.mark.parametrize("variances", [(1.0, 1.0, 0.3, 0.2), (25.0, 0.1, 0.1, 1.0), (4, 4, 0, 1)])
def test_intervals_contain_the_truth_as_often_as_they_say(
    variances: tuple[float, float, float, float],
) -> None:
    """95 % intervals of AV, GRR, PV and TV in 4,000 drawn studies of 10 parts, 3 people, 3 trials.

    Burdick and Graybill (1992) find simulated levels close to the stated one (from memory). Mean
    squares of a balanced random model are independent multiples of χ² (Searle; from memory)."""
    of_part, of_appraiser, of_both, of_repeat = variances
    a, p, r = 3, 10, 3
    freedom = {"s": p - 1, "a": a - 1, "i": (a - 1) * (p - 1), "e": a * p * (r - 1)}
    inner = of_repeat + r * of_both
    expected = {
        "s": inner + a * r * of_part,
        "a": inner + p * r * of_appraiser,
        "i": inner,
        "e": of_repeat,
    }
    draws = 4000
    random = np.random.default_rng(20)
    squares = {
        name: expected[name] * random.chisquare(df, draws) / df for name, df in freedom.items()
    }
    wanted = {
        "between_appraisers": ({"a": 1 / (p * r), "i": -1 / (p * r)}, of_appraiser),
        "gauge": (
            {"a": 1 / (p * r), "i": (p - 1) / (p * r), "e": (r - 1) / r},
            of_appraiser + of_both + of_repeat,
        ),
        "between_samples": ({"s": 1 / (a * r), "i": -1 / (a * r)}, of_part),
        "total": (
            {
                "s": 1 / (a * r),
                "a": 1 / (p * r),
                "i": (a * p - a - p) / (a * p * r),
                "e": (r - 1) / r,
            },
            sum(variances),
        ),
    }
    for name, (weights, truth) in wanted.items():
        hits = 0
        for at in range(draws):
            terms = [Term(c, float(squares[one][at]), freedom[one]) for one, c in weights.items()]
            low, high = interval(terms)
            hits += low <= truth <= high
        assert 0.94 <= hits / draws <= 0.98, (name, hits / draws)


def _sum_interval(terms: list[tuple[float, float, int]]) -> tuple[float, float, float]:
    """Ends of a sum of mean squares (factor, mean square, degrees of freedom) after Graybill and
    Wang, and its degrees of freedom after Satterthwaite; written apart from ours."""
    weights, squares, freedom = (np.array(one) for one in zip(*terms, strict=True))
    parts = weights * squares
    down = parts * (1 - freedom / stats.chi2.ppf(0.975, freedom))
    up = parts * (freedom / stats.chi2.ppf(0.025, freedom) - 1)
    middle = parts.sum()
    low, high = middle - np.sqrt((down**2).sum()), middle + np.sqrt((up**2).sum())
    return float(low), float(high), float(middle**2 / (parts**2 / freedom).sum())


def test_intervals_of_the_thermal_impedance_study() -> None:
    """GRR and TV with and without interaction: mean squares 437.33, 19.633, 2.695 and 0.511 of
    the table give ends and degrees of freedom by formulas written out here."""
    parts = [part.split() for line in THERMAL.strip().splitlines() for part in line.split(";")]
    cells = [
        [[Decimal(digits) for digits in part[at : at + 3]] for part in parts] for at in (0, 3, 6)
    ]
    table = two_way(cells)
    s, a = (table.sample.mean_square, 9), (table.appraiser.mean_square, 2)
    i, e = (table.interaction.mean_square, 18), (table.repeat.mean_square, 60)
    pool = (table.pooled.mean_square, 78)
    expected = {
        (True, "gauge"): [(1 / 30, *a), (9 / 30, *i), (2 / 3, *e)],
        (True, "total"): [(1 / 9, *s), (1 / 30, *a), (17 / 90, *i), (2 / 3, *e)],
        (False, "gauge"): [(1 / 30, *a), (29 / 30, *pool)],
        (False, "total"): [(1 / 9, *s), (1 / 30, *a), (77 / 90, *pool)],
    }
    for (interacting, name), terms in expected.items():
        found = (with_interaction if interacting else without_interaction)(table).of(name)
        low, high, freedom = _sum_interval(terms)
        assert found.low is not None
        assert found.high is not None
        assert (found.low**2, found.high**2) == pytest.approx((low, high))
        assert found.degrees_of_freedom == pytest.approx(freedom)
        assert found.standard_deviation**2 == pytest.approx(
            sum(weight * square for weight, square, _ in terms)
        )


def test_interval_from_a_range_of_two_is_exact() -> None:
    """One range of two values is √2 times a normal deviate: χ² with one degree of freedom."""
    found = range_study([[[Decimal("5.00"), Decimal("5.04")]]]).variation.of("repeatability")
    variance = 0.04**2 / 2
    assert found.degrees_of_freedom == pytest.approx(1)
    assert (found.low, found.high) == pytest.approx(
        tuple(math.sqrt(variance / stats.chi2.ppf(p, 1)) for p in (0.975, 0.025))
    )


def test_degrees_of_freedom_after_satterthwaite() -> None:
    """GUM G.4 for a sum of two equal variances with 5 and 5 degrees of freedom: 10 (from the
    formula), and the F test's case of scipy: Welch's t test of equal sizes and variances."""
    assert satterthwaite([Term(1, 2.0, 5), Term(1, 2.0, 5)]) == pytest.approx(10)
    one, other = [1.0, 2.0, 4.0, 7.0], [1.0, 1.5, 2.5, 2.0, 9.0]
    welch = stats.ttest_ind(one, other, equal_var=False)
    terms = [Term(1 / len(x), float(np.var(x, ddof=1)), len(x) - 1) for x in (one, other)]
    assert satterthwaite(terms) == pytest.approx(welch.df)
