"""Bore and journal geometry and comparative gauges, against service manuals and examples."""

from __future__ import annotations

import random
from decimal import Decimal

import numpy as np
import pytest

from capture.check import Result, gate
from capture.quantity import Number, text
from capture.shapes import (
    cylindricity,
    cylindricity_depths,
    deviation_to_size,
    limit_by_rate,
    mean,
    out_of_round,
    out_of_round_direction,
    taper,
    taper_end,
)
from capture.spec.model import Decision, Limits, Point, Rule


def grid(rows: list[list[str]]) -> dict[Point, Number]:
    return {
        Point(f"depth-{level}", f"axis-{axis}"): Decimal(size)
        for level, row in enumerate(rows)
        for axis, size in enumerate(row)
    }


# BJ-01, BJ-02: six diameters in mm, ours.
BORE = [["88.012", "88.021"], ["88.010", "88.016"], ["88.004", "88.013"]]


def test_bj_01_bore_mean_out_of_round_cylindricity() -> None:
    """Diesel-engine service manual, "Parts inspection and measurement", cylinder bore: roundness =
    greatest over levels of |A − B|, cylindricity = greatest over directions of (max − min)
    (rule seen, numbers ours)."""
    sizes = grid(BORE)
    assert text(mean(list(sizes.values())), 6) == "88.012667"
    per_level = [out_of_round(grid([row])) for row in BORE]
    assert [text(size) for size in per_level] == ["0.009", "0.006", "0.009"]
    assert out_of_round(sizes) == Decimal("0.009")
    assert cylindricity(sizes) == Decimal("0.008")


def test_bj_02_signed_taper_per_direction() -> None:
    """Engine service manual, cylinder block inspection: bore taper = difference between first and
    third measurement (rule seen, numbers ours). Larger at the top is positive."""
    for axis in (0, 1):
        assert taper(grid([[row[axis]] for row in BORE])) == Decimal("0.008")
    assert taper(grid(BORE)) == Decimal("0.008")
    assert taper(grid(BORE[::-1])) == Decimal("-0.008")


def test_bj_01_and_02_say_where_on_the_bore() -> None:
    """The same six diameters: which end, which direction, which depth."""
    sizes = grid(BORE)
    assert taper_end(sizes) == (Decimal("0.008"), "axis-0", "depth-0", "depth-2")
    assert out_of_round_direction(sizes) == (Decimal("0.009"), "depth-0", "axis-1", "axis-0")
    assert cylindricity_depths(sizes) == (Decimal("0.008"), "axis-0", "depth-0", "depth-2")


@pytest.mark.parametrize(
    ("size", "rate", "limit"),
    [
        ("4.000", ".001", "0.004"),  # wear of the bore
        ("4.500", ".0005", "0.00225"),  # taper over the piston's travel
        ("2.750", ".0004", "0.0011"),  # out-of-round of a main journal
    ],
)
def test_bj_03_wear_limits_per_inch_of_size(size: str, rate: str, limit: str) -> None:
    """tpub.com TM-10-3930-647-14-P0175 (rates seen; sizes ours), inches."""
    assert limit_by_rate(Decimal(size), Decimal(rate)) == Decimal(limit)


def test_bj_04_journal_against_new_and_service_limits() -> None:
    """Engine service manual, cylinder block inspection: limits 0.005 mm new, 0.010 mm service
    (limits seen, partly from damaged text; sizes ours)."""
    journal = grid([["55.985", "55.979"], ["55.984", "55.980"]])
    new = gate(Limits(None, Decimal("0.005")), Decision(Rule.SIMPLE), Decimal(0))
    service = gate(Limits(None, Decimal("0.010")), Decision(Rule.SIMPLE), Decimal(0))
    worst = out_of_round(journal)
    assert worst == Decimal("0.006")
    assert new.judge(worst) is Result.NONCONFORMING
    assert service.judge(worst) is Result.CONFORMING
    along = taper(journal)
    assert abs(along) == Decimal("0.001")
    assert new.judge(along) is Result.CONFORMING


@pytest.mark.parametrize(
    ("standard", "deviation", "size"),
    [
        ("100.000", "-0.012", "99.988"),  # BG-01, numbers ours
        ("50.000020", "-0.000094", "49.999926"),  # BG-02, EA-4/02 S4 (memory)
        ("4.000", "0.406", "4.406"),  # BG-03, lab write-up on cylinder taper (seen), inches
    ],
)
def test_bg_01_to_03_size_is_standard_plus_deviation(
    standard: str, deviation: str, size: str
) -> None:
    """Model l_X = l_S + δl: metrodata.de/examples/S04.smu (EA-4/02 example S4), seen."""
    assert text(deviation_to_size(Decimal(standard), Decimal(deviation))) == size


@pytest.mark.parametrize("case", range(20))
def test_forms_agree_with_numpy(case: int) -> None:
    """numpy as the second computer, on random grids of depths × axes, to float accuracy."""
    draw = random.Random(case)
    depths, axes = draw.randint(2, 5), draw.randint(2, 4)
    rows = [
        [f"{80 + draw.randint(-40, 40) / 1000:.3f}" for _ in range(axes)] for _ in range(depths)
    ]
    sizes, array = grid(rows), np.array(rows, dtype=float)
    drops = array[0] - array[-1]
    assert float(mean(list(sizes.values()))) == pytest.approx(array.mean(), abs=1e-11)
    assert abs(float(taper(sizes))) == pytest.approx(np.abs(drops).max(), abs=1e-11)
    assert any(float(taper(sizes)) == pytest.approx(drop, abs=1e-11) for drop in drops)
    assert float(out_of_round(sizes)) == pytest.approx(np.ptp(array, axis=1).max(), abs=1e-11)
    assert float(cylindricity(sizes)) == pytest.approx(np.ptp(array, axis=0).max(), abs=1e-11)
