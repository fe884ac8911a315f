"""Select fit against published assignment problems and against exhaustive enumeration."""

from __future__ import annotations

from decimal import Decimal
from itertools import permutations

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from capture import fit
from capture.fit.matching import best, whole_assignment

FORBIDDEN = 0
"""What stands in a table where a pair must not be."""

SCIPY_CASES = [
    # SF-01: scipy/sparse/csgraph/tests/test_matching.py, linear_sum_assignment_test_cases (1.17.1)
    ([[400, 150, 400], [400, 450, 600], [300, 225, 300]], [150, 400, 300]),
    ([[10, 10, 8], [9, 8, 1], [9, 7, 4]], [10, 1, 7]),
    # SF-03, the same file: ∞ is a pair that must not be
    (
        [[10, FORBIDDEN, FORBIDDEN], [FORBIDDEN, FORBIDDEN, 1], [FORBIDDEN, 7, FORBIDDEN]],
        [10, 1, 7],
    ),
]


@pytest.mark.parametrize(("costs", "expected"), SCIPY_CASES)
def test_sf_01_and_sf_03_least_sum(costs: list[list[int]], expected: list[int]) -> None:
    table = np.array(costs)
    found = best(table, table != FORBIDDEN, worst_first=False)
    assert [table[pair] for pair in found] == expected


@pytest.mark.parametrize(("costs", "expected"), SCIPY_CASES[:2])
def test_sf_01_least_sum_in_whole_numbers_of_any_size(
    costs: list[list[int]], expected: list[int]
) -> None:
    assert [costs[row][column] for row, column in whole_assignment(costs)] == expected
    # The same beyond what floating point can hold: 10³⁰ times, and one more in every place.
    large = [[cost * 10**30 + 1 for cost in row] for row in costs]
    table, every = np.array(large, dtype=object), np.ones((3, 3), dtype=bool)
    found = best(table, every, worst_first=False)
    assert [costs[row][column] for row, column in found] == expected


BORES: dict[str | int, Decimal] = {
    n: Decimal(size) for n, size in enumerate(["87.208", "87.214", "87.235", "87.246"], 1)
}
PISTONS: dict[str | int, Decimal] = {
    n: Decimal(size) for n, size in enumerate(["87.201", "87.180", "87.213", "87.171"], 1)
}
WINDOW = (Decimal("0.025"), Decimal("0.045"))
TARGET = Decimal("0.035")


def test_sf_02_four_pistons_to_four_bores() -> None:
    """Bands and window from TM 10-3930-653-14&P p. 61 (tpub.com), sizes ours inside the bands;
    answer by exhaustive enumeration."""
    found = fit.assign(BORES, PISTONS, WINDOW, TARGET)
    assert [PISTONS[pair.inner] for pair in found.pairs] == [
        Decimal(size) for size in ("87.171", "87.180", "87.201", "87.213")
    ]
    assert [pair.clearance for pair in found.pairs] == [
        Decimal(size) for size in ("0.037", "0.034", "0.034", "0.033")
    ]
    assert found.total_miss == Decimal("0.006")
    assert found.outside == ()


def test_sf_02_first_come_order_fails_and_the_runner_up_is_far_behind() -> None:
    first_come = fit.given_order(BORES, PISTONS, WINDOW, TARGET)
    assert first_come.pairs[0].clearance == Decimal("0.007")
    assert first_come.pairs[0] in first_come.outside
    sums = sorted(
        sum(abs(bore - piston - TARGET) for bore, piston in zip(BORES.values(), some, strict=True))
        for some in permutations(PISTONS.values())
    )
    assert sums[:2] == [Decimal("0.006"), Decimal("0.018")]
    assert fit.assign(BORES, PISTONS, WINDOW, TARGET).total_miss == sums[0]


def test_a_hundred_parts_against_scipys_linear_assignment() -> None:
    """The least sum of scipy.optimize.linear_sum_assignment over the pairs that the least worst
    miss leaves. For as many pistons as bores that worst miss is known otherwise: that of the parts
    in the order of size (exchange two crossed pairs: neither miss becomes the greater one)."""
    draw = np.random.default_rng(20)
    tall = draw.integers(872_000, 872_400, 100)
    wide = draw.integers(871_650, 872_050, 100)
    bores: dict[str | int, Decimal] = {n: Decimal(int(v)).scaleb(-4) for n, v in enumerate(tall)}
    pistons: dict[str | int, Decimal] = {n: Decimal(int(v)).scaleb(-4) for n, v in enumerate(wide)}
    misses = abs(tall[:, None] - wide[None, :] - 350)
    worst = abs(np.sort(tall) - np.sort(wide) - 350).max()
    dear = np.where(misses <= worst, misses, 10**9)
    least = dear[linear_sum_assignment(dear)].sum()
    found = fit.assign(bores, pistons, (None, None), TARGET)
    assert found.worst_miss == Decimal(int(worst)).scaleb(-4)
    assert found.total_miss == Decimal(int(least)).scaleb(-4)


def test_bearing_shells_by_hand() -> None:
    """Housing 60.000, two shells of 1.985 each, journal 55.985 mm give 0.045 mm: by definition,
    sizes ours."""
    shells = [fit.Shell("standard", Decimal("1.985"), 2)]
    (only,) = fit.choose_shells(
        Decimal("60.000"), Decimal("55.985"), shells, (Decimal("0.03"), Decimal("0.06"))
    )
    assert only.clearance == Decimal("0.045")
    assert only.miss == 0
