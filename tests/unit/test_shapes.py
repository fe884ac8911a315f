"""Form and fit from measured sizes."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from capture.quantity import Number
from capture.shapes import (
    clearance,
    cylindricity,
    deviation_to_size,
    mean,
    out_of_round,
    taper,
)
from capture.spec.model import Basis, Point


def grid(**rows: str) -> dict[Point, Number]:
    """Sizes by depth; the axes are thrust and axial, in that order."""
    return {
        Point(depth, axis): Decimal(size)
        for depth, sizes in rows.items()
        for axis, size in zip(("thrust", "axial"), sizes.split(), strict=True)
    }


def test_mean_is_exact_whether_it_ends_or_not() -> None:
    assert mean([Decimal("1.1"), Decimal("1.2")]) == Decimal("1.15")
    third = mean([Decimal(1), Decimal(0), Decimal(0)])
    assert third == Fraction(1, 3)
    assert isinstance(third, Fraction)
    assert isinstance(mean([Fraction(1, 3), Fraction(2, 3)]), Decimal)
    assert mean([Decimal("0.1")] * 10) == Decimal("0.1")


def test_taper_is_first_depth_less_last_with_its_sign() -> None:
    assert taper(grid(top="10.010 10.012", middle="9 9", bottom="10.004 10.004")) == Decimal(
        "0.008"
    )
    assert taper(grid(top="10.000 10.000", bottom="10.003 10.005")) == Decimal("-0.005")


def test_taper_of_equal_magnitudes_takes_the_first_axis() -> None:
    assert taper(grid(top="10.003 10.000", bottom="10.000 10.003")) == Decimal("0.003")
    assert taper(grid(top="10.000 10.003", bottom="10.003 10.000")) == Decimal("-0.003")


def test_taper_without_axes_and_with_one_axis_measured_less() -> None:
    assert taper({Point("top"): Decimal("2"), Point("bottom"): Decimal("1")}) == 1
    sizes = {
        **grid(top="10.001 10.000", bottom="10.000 10.000"),
        Point("middle", "skew"): Decimal(99),
    }
    assert taper(sizes) == Decimal("0.001")


def test_out_of_round_is_the_worst_depth() -> None:
    assert out_of_round(grid(top="10.000 10.009", bottom="10.004 10.001")) == Decimal("0.009")


def test_out_of_round_of_three_axes_is_largest_less_smallest() -> None:
    sizes: dict[Point, Number] = {
        Point("", axis): Decimal(size)
        for axis, size in {"0": "10.002", "60": "10.007", "120": "10.004"}.items()
    }
    assert out_of_round(sizes) == Decimal("0.005")


def test_cylindricity_sees_the_barrel_that_taper_does_not() -> None:
    barrel = grid(top="10.000 10.000", middle="10.006 10.002", bottom="10.000 10.001")
    assert cylindricity(barrel) == Decimal("0.006")
    assert taper(barrel) == Decimal("-0.001")


def test_clearance_by_mean_and_by_least() -> None:
    outer = [Decimal("60.040"), Decimal("60.044")]
    inner = [Decimal("60.000"), Decimal("60.002")]
    assert clearance(outer, inner, Basis.MEAN) == Decimal("0.041")
    assert clearance(outer, inner, Basis.LEAST) == Decimal("0.038")
    assert clearance(inner, outer, Basis.LEAST) == Decimal("-0.044")


def test_clearance_takes_fractions_beside_decimals() -> None:
    assert clearance([Fraction(4, 3)], [Decimal(1)], Basis.LEAST) == Fraction(1, 3)
    assert clearance([Fraction(4, 3)], [Fraction(1, 3)], Basis.MEAN) == 1


def test_deviation_to_size_adds_with_sign() -> None:
    assert str(deviation_to_size(Decimal("87.000"), Decimal("-0.012"))) == "86.988"
    assert deviation_to_size(Decimal("87"), Fraction(1, 3)) == Fraction(262, 3)


def test_one_point_is_not_enough_for_a_form() -> None:
    only: dict[Point, Number] = {Point("top", "thrust"): Decimal(1)}
    for form, missing in ((taper, "depths"), (out_of_round, "axes"), (cylindricity, "depths")):
        with pytest.raises(ValueError, match=missing):
            form(only)
    with pytest.raises(ValueError, match="axes"):
        out_of_round({Point("top", "thrust"): Decimal(1), Point("bottom", "thrust"): Decimal(1)})


def test_no_sizes_is_an_error() -> None:
    with pytest.raises(ValueError, match="at least one"):
        mean([])
    for basis in Basis:
        with pytest.raises(ValueError, match="at least one"):
            clearance([Decimal(1)], [], basis)
        with pytest.raises(ValueError, match="at least one"):
            clearance([], [Decimal(1)], basis)
