"""Orders are fair, sums of squares add up, and neither unit nor offset changes what is found."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from capture.quantity import Number
from capture.spec.model import Limits
from capture.study.anova import one_way, two_way
from capture.study.bias import linearity
from capture.study.capability import performance
from capture.study.charts import individuals
from capture.study.component import Variation
from capture.study.crossed import one_appraiser, with_interaction, without_interaction
from capture.study.moments import moments
from capture.study.order import draw
from capture.study.ranges import range_study

SIZES = st.integers(-(10**6), 10**6).map(lambda steps: Decimal(steps).scaleb(-3))
Cells = list[list[list[Number]]]
untimed = settings(deadline=None)
"""The first example pays for loading scipy and computing factors."""


@st.composite
def studies(sizes: st.DrawFn) -> Cells:
    """Two to four appraisers, two to five samples, two or three trials."""
    a, p, r = (sizes(st.integers(2, most)) for most in (4, 5, 3))
    values = sizes(st.lists(SIZES, min_size=a * p * r, max_size=a * p * r))
    return [
        [list(values[(i * p + j) * r : (i * p + j + 1) * r]) for j in range(p)] for i in range(a)
    ]


def mapped(cells: Cells, scale: Fraction, offset: Fraction) -> Cells:
    return [[[Fraction(x) * scale + offset for x in cell] for cell in row] for row in cells]


@untimed
@given(
    st.integers(1, 12),
    st.lists(st.text(max_size=3), min_size=1, max_size=4, unique=True),
    st.integers(1, 4),
    st.text(max_size=12),
)
def test_every_turn_once_in_blocks_and_never_the_same_sample_twice(
    samples: int, appraisers: list[str], trials: int, lot: str
) -> None:
    turns = draw(samples, appraisers, trials, lot)
    assert turns == draw(samples, appraisers, trials, lot)
    assert len(set(turns)) == len(turns) == samples * len(appraisers) * trials
    blocks = [turns[at : at + samples] for at in range(0, len(turns), samples)]
    wanted = [(trial, who) for trial in range(1, trials + 1) for who in appraisers]
    for block, (trial, who) in zip(blocks, wanted, strict=True):
        assert {(turn.trial, turn.appraiser) for turn in block} == {(trial, who)}
        assert {turn.sample for turn in block} == set(range(1, samples + 1))
    if samples > 1:
        assert all(one.sample != other.sample for one, other in pairwise(turns))


@untimed
@given(studies())
def test_sums_of_squares_and_degrees_of_freedom_add_up(cells: Cells) -> None:
    table = two_way(cells)
    parts = (table.appraiser, table.sample, table.interaction, table.repeat)
    whole = table.total.sum_of_squares
    assert sum(line.degrees_of_freedom for line in parts) == table.total.degrees_of_freedom
    assert sum(line.sum_of_squares for line in parts) == pytest.approx(whole, rel=1e-12)
    assert all(line.sum_of_squares >= 0 for line in parts)
    values = [value for row in cells for cell in row for value in cell]
    variance = moments(values).standard_deviation ** 2
    assert table.total.mean_square == pytest.approx(variance, rel=1e-12)


def every_model(cells: Cells) -> list[Variation]:
    table = two_way(cells)
    return [
        with_interaction(table),
        without_interaction(table),
        one_appraiser(one_way(cells[0])),
        range_study(cells).variation,
    ]


@untimed
@given(studies())
def test_parts_lie_in_their_intervals_and_variances_add(cells: Cells) -> None:
    for found in every_model(cells):
        for one in found.components:
            if one.low is not None and one.high is not None:
                slack = 1e-9 * one.standard_deviation
                assert one.low - slack <= one.standard_deviation <= one.high + slack
        total = found.of("total").standard_deviation ** 2
        parts = (
            found.of("gauge").standard_deviation ** 2
            + found.of("between_samples").standard_deviation ** 2
        )
        assert total == pytest.approx(parts, rel=1e-9)


@untimed
@given(studies(), st.sampled_from([Fraction(5, 127), Fraction(1000)]), SIZES)
def test_unit_and_offset_change_no_share(cells: Cells, scale: Fraction, offset: Decimal) -> None:
    """In inches, or as deviations from another zero, a study says the same."""
    moved = mapped(cells, scale, Fraction(offset))
    for found, other in zip(every_model(cells), every_model(moved), strict=True):
        for one, same in zip(found.components, other.components, strict=True):
            share, other_share = one.percent_of_all_variation, same.percent_of_all_variation
            assert (share is None) == (other_share is None)
            # A part that is a difference of larger ones is as sure as they are.
            assert (other_share or 0.0) == pytest.approx(share or 0.0, rel=1e-9, abs=1e-4)
            slack = 1e-6 * float(scale) * found.of("total").standard_deviation
            assert same.standard_deviation == pytest.approx(
                one.standard_deviation * float(scale), rel=1e-9, abs=slack
            )
    before, after = range_study(cells), range_study(moved)
    assert [one[:2] for one in before.outside] == [one[:2] for one in after.outside]


@untimed
@given(studies(), st.randoms(use_true_random=False))
def test_naming_samples_otherwise_changes_nothing(cells: Cells, random: object) -> None:
    order = list(range(len(cells[0])))
    random.shuffle(order)  # type: ignore[attr-defined]  # hypothesis gives a Random
    shuffled = [[row[at] for at in order] for row in cells]
    assert two_way(shuffled) == two_way(cells)


@untimed
@given(st.lists(SIZES, min_size=3, max_size=12), SIZES)
def test_individuals_move_with_their_zero(values: list[Number], offset: Decimal) -> None:
    chart = individuals(values)
    moved = individuals([Fraction(value) + Fraction(offset) for value in values])
    assert moved.scatter == chart.scatter
    assert moved.location.upper - chart.location.upper == pytest.approx(float(offset), abs=1e-6)


@untimed
@given(
    st.lists(SIZES, min_size=4, max_size=12), st.sampled_from([Decimal("25.4"), Decimal("0.001")])
)
def test_indices_have_no_unit_and_lie_in_their_intervals(
    values: list[Decimal], scale: Decimal
) -> None:
    spread = moments(values).standard_deviation
    assume(spread > 1)
    lower, upper = Decimal(-2000), Decimal(2500)
    found = performance(values, Limits(lower, upper), Decimal(100))
    scaled = performance(
        [value * scale for value in values],
        Limits(lower * scale, upper * scale),
        Decimal(100) * scale,
    )
    for one, other in zip(found.indices, scaled.indices, strict=True):
        assert other.value == pytest.approx(one.value, rel=1e-9)
        assert one.low <= one.value <= one.high
    pp, ppk = found.of("Pp").value, found.of("Ppk").value
    assert ppk <= pp * (1 + 1e-12)


@untimed
@given(st.lists(SIZES, min_size=2, max_size=5, unique=True), SIZES, st.integers(-50, 50))
def test_a_line_without_scatter_is_found_again(
    references: list[Number], offset: Decimal, slope: int
) -> None:
    """Readings on a straight line: slope and offset come back exactly, with no band."""
    share = Fraction(slope, 100)
    readings: list[list[Number]] = [
        [Fraction(one) * (1 + share) + Fraction(offset)] * 2 for one in references
    ]
    found = linearity(references, readings)
    assert found.line.slope == float(share)
    assert found.line.standard_deviation == 0
    assert found.slope_low == found.slope_high == float(share)
    assert found.zero_inside == all(
        not Fraction(one) * share + Fraction(offset) for one in references
    )
