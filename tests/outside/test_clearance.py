"""Clearances between parts against printed limits."""

from __future__ import annotations

from decimal import Decimal

import pytest

from capture.check import Result, gate
from capture.quantity import convert
from capture.shapes import clearance
from capture.spec.model import Basis, Decision, Limits, Rule
from capture.uncertainty import root_sum

SIMPLE = Decision(Rule.SIMPLE)


def test_cl_02_oil_clearance_from_housing_shells_and_journal() -> None:
    """By definition: housing 60.000, two shells of 1.985 each, journal 55.985 mm (ours)."""
    fitted = Decimal("60.000") - 2 * Decimal("1.985")
    for basis in Basis:
        assert clearance([fitted], [Decimal("55.985")], basis) == Decimal("0.045")


def test_cl_02_smallest_rod_bearing_bore_less_largest_crankpin_exceeds_its_limit() -> None:
    """tpub.com TM-5-3895-370-14P_907 steps (11)(b)–(e): limit .0035 in (rule and limit seen, sizes
    ours). The manual takes the smallest of each; with one crankpin size the bases agree."""
    found = clearance([Decimal("2.7195")], [Decimal("2.7158")], Basis.LEAST)
    assert found == Decimal("0.0037")
    limit = gate(Limits(None, Decimal("0.0035")), SIMPLE, Decimal(0))
    assert limit.judge(found) is Result.NONCONFORMING
    in_mm = gate(Limits(None, Decimal("0.0889")), SIMPLE, Decimal(0))  # as printed beside it
    assert in_mm.judge(convert(found, "in", "mm")) is Result.NONCONFORMING


def test_cl_03_extremes_of_piston_to_bore_clearance_from_tolerance_bands() -> None:
    """tpub.com TM-10-3930-653-14P_61: bore 87.20–87.25, piston 87.165–87.215, clearance
    0.025–0.045 mm (limits seen): freely mixed sizes cannot meet it, so parts must be matched."""
    bores = [Decimal("87.20"), Decimal("87.25")]
    pistons = [Decimal("87.165"), Decimal("87.215")]
    least = clearance(bores, pistons, Basis.LEAST)
    greatest = clearance([max(bores)], [min(pistons)], Basis.LEAST)
    assert (least, greatest) == (Decimal("-0.015"), Decimal("0.085"))
    wanted = gate(Limits(Decimal("0.025"), Decimal("0.045")), SIMPLE, Decimal(0))
    assert wanted.judge(least) is Result.NONCONFORMING
    assert wanted.judge(greatest) is Result.NONCONFORMING


@pytest.mark.parametrize(
    ("rate", "added", "expected"),
    [("0.00075", "0", "0.0015"), ("0.0010", "0", "0.002"), ("0.0010", "0.0005", "0.0025")],
)
def test_cl_01_starting_range_of_oil_clearance(rate: str, added: str, expected: str) -> None:
    """A bearing clearance guide: .00075–.0010 in per inch of shaft, + .0005 in for high performance
    (seen), shaft 2.000 in. Parts made to that clearance give it back."""
    shaft = Decimal("2.000")
    bore = shaft + shaft * Decimal(rate) + Decimal(added)
    assert clearance([bore, bore], [shaft, shaft], Basis.MEAN) == Decimal(expected)


def test_the_uncertainty_of_a_clearance_is_the_root_sum_of_its_two_sizes() -> None:
    """The package ``uncertainties`` as the second computer."""
    from uncertainties import ufloat

    difference = ufloat(60.04, 0.0021) - ufloat(60.0, 0.0013)
    assert root_sum([0.0021, 0.0013]) == pytest.approx(difference.std_dev, rel=1e-12)


def test_the_uncertainty_of_a_mean_of_independent_sizes_is_the_root_sum_over_n() -> None:
    """The package ``uncertainties`` as the second computer."""
    from uncertainties import ufloat

    each = [0.0021, 0.0013, 0.0017, 0.0009, 0.0011, 0.0019]
    mean = sum(ufloat(88.0, u) for u in each) / len(each)
    assert root_sum(each) / len(each) == pytest.approx(mean.std_dev, rel=1e-12)
