"""Form and fit from measured sizes."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from capture.quantity import Number
from capture.shapes import (
    EndFloat,
    Fit,
    Form,
    clearance,
    clearance_at,
    cylindricity,
    cylindricity_depths,
    deviation_to_size,
    end_float,
    fit,
    gap_change,
    limit_by_rate,
    limits_by_factor,
    mean,
    oil_clearance,
    out_of_round,
    out_of_round_direction,
    size_range,
    taper,
    taper_end,
)
from capture.spec.model import Basis, Limits, Point


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


def test_clearance_by_mean_by_least_and_by_greatest() -> None:
    outer = [Decimal("60.040"), Decimal("60.044")]
    inner = [Decimal("60.000"), Decimal("60.002")]
    assert clearance(outer, inner, Basis.MEAN) == Decimal("0.041")
    assert clearance(outer, inner, Basis.LEAST) == Decimal("0.038")
    assert clearance(inner, outer, Basis.LEAST) == Decimal("-0.044")
    assert clearance(outer, inner, Basis.GREATEST) == Decimal("0.044")
    assert fit(outer, inner) == Fit(Decimal("0.038"), Decimal("0.041"), Decimal("0.044"))


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
    for without_sizes in (mean, size_range):
        with pytest.raises(ValueError, match="at least one"):
            without_sizes([])
    for forward, rearward in (([], [Decimal(1)]), ([Decimal(1)], [])):
        with pytest.raises(ValueError, match="at least one"):
            end_float(forward, rearward)
    for basis in Basis:
        with pytest.raises(ValueError, match="at least one"):
            clearance([Decimal(1)], [], basis)
        with pytest.raises(ValueError, match="at least one"):
            clearance([], [Decimal(1)], basis)


def test_the_range_of_sizes() -> None:
    assert size_range([Decimal("1.2"), Decimal("1.5"), Fraction(4, 3)]) == Decimal("0.3")
    assert size_range([Decimal(7)]) == 0


def test_the_larger_end_of_a_taper_is_named_with_its_axis() -> None:
    sizes = grid(top="10.000 10.000", middle="10.009 10.009", bottom="10.003 10.005")
    assert taper_end(sizes) == Form(Decimal("-0.005"), "axial", "bottom", "top")
    assert taper_end(grid(top="10.004 10.001", bottom="10.000 10.000")) == Form(
        Decimal("0.004"), "thrust", "top", "bottom"
    )


def test_no_taper_has_no_larger_end() -> None:
    assert taper_end(grid(top="10 10", bottom="10.000 10")) == Form(Decimal(0), "thrust", "", "")


def test_out_of_round_names_its_depth_and_the_larger_direction() -> None:
    sizes = grid(top="10.000 10.002", middle="10.009 10.001", bottom="10.000 10.008")
    assert out_of_round_direction(sizes) == Form(Decimal("0.008"), "middle", "thrust", "axial")
    round_bore = out_of_round_direction(grid(top="10 10.0"))
    assert round_bore == Form(Decimal(0), "top", "", "")


def test_cylindricity_names_the_depths_of_a_barrel() -> None:
    barrel = grid(top="10.000 10.000", middle="10.006 10.002", bottom="10.001 10.001")
    assert cylindricity_depths(barrel) == Form(Decimal("0.006"), "thrust", "middle", "top")


def test_clearance_at_points_that_are_the_same() -> None:
    bore = grid(top="60.040 60.044", bottom="60.050 60.041")
    journal = grid(top="60.000 60.001", bottom="60.002 60.000")
    assert clearance_at(bore, journal) == grid(top="0.040 0.043", bottom="0.048 0.041")
    assert list(clearance_at(bore, journal)) == list(bore)


def test_one_size_stands_for_every_point_of_the_other_part() -> None:
    bore = grid(top="87.040 87.044", bottom="87.050 87.041")
    skirt: dict[Point, Number] = {Point("skirt", "across"): Decimal("87.000")}
    assert clearance_at(bore, skirt) == grid(top="0.040 0.044", bottom="0.050 0.041")
    turned = clearance_at(skirt, bore)
    assert turned == grid(top="-0.040 -0.044", bottom="-0.050 -0.041")
    whole: dict[Point, Number] = {Point(): Decimal(2)}
    assert clearance_at(whole, {Point(): Decimal(1)}) == {Point(): 1}
    assert clearance_at(whole, skirt) == {Point("skirt", "across"): -85}


def test_a_point_without_depth_stands_for_its_axis() -> None:
    bore = grid(top="60.040 60.044", bottom="60.050 60.041")
    by_axis: dict[Point, Number] = {
        Point("", "thrust"): Decimal("60.000"),
        Point("", "axial"): Decimal("60.001"),
    }
    assert clearance_at(bore, by_axis) == grid(top="0.040 0.043", bottom="0.050 0.040")
    by_depth: dict[Point, Number] = {Point("top"): Decimal(60), Point("middle"): Decimal(60)}
    assert clearance_at(bore, by_depth) == grid(top="0.040 0.044")


def test_a_point_s_own_size_goes_before_one_that_stands_for_it() -> None:
    bore = grid(top="60.040 60.044")
    own: dict[Point, Number] = {
        Point("top", "thrust"): Decimal("60.010"),
        Point("", "thrust"): Decimal("60.000"),
        Point("top", "axial"): Decimal("60.010"),
    }
    assert clearance_at(bore, own) == grid(top="0.030 0.034")
    assert clearance_at(bore, dict(reversed(own.items()))) == grid(top="0.030 0.034")


def test_parts_with_no_point_in_common() -> None:
    with pytest.raises(ValueError, match="no point in common"):
        clearance_at(grid(top="1 1"), grid(bottom="1 1"))
    with pytest.raises(ValueError, match="no point in common"):
        clearance_at(grid(top="1 1"), {})


def test_oil_clearance_from_parts() -> None:
    shells = [Decimal("1.985"), Decimal("1.987")]
    assert oil_clearance(Decimal("60.000"), shells, Decimal("55.985")) == Decimal("0.043")
    for wrong in ([], shells[:1], shells * 2):
        with pytest.raises(ValueError, match="two shells"):
            oil_clearance(Decimal(60), wrong, Decimal(56))


def test_end_float_both_ways_shows_a_shaft_not_pushed_home() -> None:
    forward = [Decimal("0.152"), Decimal("0.154")]
    rearward = [Decimal("-0.001"), Decimal("0.009"), Decimal("0.001")]
    found = end_float(forward, rearward)
    assert found == EndFloat(Decimal("0.15"), Decimal("0.010"))
    assert end_float(rearward, forward) == found


def test_limits_by_rate_and_by_factor() -> None:
    assert limit_by_rate(Decimal("2"), Decimal("0.001"), Decimal("0.0005")) == Decimal("0.0025")
    found = limits_by_factor(Decimal("101.600"), Decimal("0.0040"), Decimal("0.0055"))
    assert found == Limits(Decimal("0.4064"), Decimal("0.5588"))
    assert limits_by_factor(Decimal(4), None, Decimal("0.005")) == Limits(None, Decimal("0.02"))
    assert limits_by_factor(Decimal(4), Decimal(0), None) == Limits(Decimal(0), None)


def test_limits_that_do_not_end_are_rounded_inward() -> None:
    third = limits_by_factor(Fraction(1, 3), Decimal(1), Decimal(2))
    assert third == Limits(Decimal("0.333333333334"), Decimal("0.666666666666"))
    # A tie with a limit that ends stays exact whatever its length.
    long = Decimal("0.1234567890123456789012345678901234567890")
    assert limits_by_factor(long, Decimal(1), Decimal(1)) == Limits(long, long)


@pytest.mark.parametrize(
    ("size", "lower", "upper", "wrong"),
    [
        ("0", "0.1", "0.2", "above zero"),
        ("-1", "0.1", "0.2", "above zero"),
        ("4", "-0.1", "0.2", "not negative"),
        ("4", None, "-0.2", "not negative"),
        ("4", "0.3", "0.2", "exchange"),
    ],
)
def test_factors_that_cannot_be(size: str, lower: str | None, upper: str, wrong: str) -> None:
    with pytest.raises(ValueError, match=wrong):
        limits_by_factor(Decimal(size), None if lower is None else Decimal(lower), Decimal(upper))


def test_the_gap_changes_with_the_sign_of_the_bore() -> None:
    assert gap_change(Decimal("-0.01")) == -gap_change(Decimal("0.01"))
    assert float(gap_change(Decimal("0.01"))) == pytest.approx(0.0314159265358979)
