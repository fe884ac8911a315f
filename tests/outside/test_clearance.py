"""Clearances between parts against printed limits."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from capture.check import Result, gate
from capture.quantity import convert, resolution
from capture.shapes import (
    PI,
    clearance,
    fit,
    gap_change,
    limit_by_rate,
    limits_by_factor,
    oil_clearance,
)
from capture.spec.model import Basis, Decision, Limits, Rule
from capture.uncertainty import root_sum
from tests.outside.tables import rows

SIMPLE = Decision(Rule.SIMPLE)


def test_cl_02_oil_clearance_from_housing_shells_and_journal() -> None:
    """By definition: housing 60.000, two shells of 1.985 each, journal 55.985 mm (ours)."""
    housing, journal = Decimal("60.000"), Decimal("55.985")
    assert oil_clearance(housing, [Decimal("1.985")] * 2, journal) == Decimal("0.045")
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
    greatest = clearance(bores, pistons, Basis.GREATEST)
    assert fit(bores, pistons) == (least, Decimal("0.035"), greatest)
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
    assert limit_by_rate(shaft, Decimal(rate), Decimal(added)) == Decimal(expected)
    bore = shaft + shaft * Decimal(rate) + Decimal(added)
    assert clearance([bore, bore], [shaft, shaft], Basis.MEAN) == Decimal(expected)


@pytest.mark.parametrize(
    ("factor", "gap"),
    [(".004", "0.016"), (".005", "0.02"), (".0055", "0.022"), (".006", "0.024"), (".007", "0.028")],
)
def test_cl_04_ring_end_gap_is_bore_times_factor(factor: str, gap: str) -> None:
    """A ring-gap table quoted in a forum post (web page; search words "piston ring end gap bore
    factor", seen): bore 4.00 in."""
    limits = limits_by_factor(Decimal("4.00"), Decimal(factor), None)
    assert limits == Limits(Decimal(gap), None)


def test_the_gap_changes_by_pi_times_the_bore() -> None:
    """tpub.com TM-5-6115-593-34_21 (seen): 0.003 in for each 0.001 in of bore."""
    assert round(gap_change(Decimal("0.001")), 3) == Decimal("0.003")
    assert gap_change(Decimal(1)) == PI


def pair_of(row: dict[str, str], end: str) -> tuple[str, str]:
    return row[f"in_{end}"], row[f"mm_{end}"]


@pytest.mark.parametrize(
    ("inches", "millimetres", "printed"),
    [
        (".006", "0.1524", "0.15"),  # CL-05: TM-5-6115-593-34_21, crank end clearance new …
        (".013", "0.3302", "0.33"),
        (".026", "0.6604", "0.66"),  # … and worn
        (".005", "0.1270", "0.127"),  # CL-07: TM-5-4310-354-140268, rod side clearance …
        (".012", "0.3048", "0.305"),
        (".020", "0.5080", "0.508"),  # … and at most
    ],
)
def test_cl_05_and_07_limits_in_both_units(inches: str, millimetres: str, printed: str) -> None:
    """tpub.com, pages as named (inches and printed millimetres seen)."""
    found = convert(Decimal(inches), "in", "mm")
    assert found == Decimal(millimetres)
    assert abs(Fraction(found) - Fraction(printed)) <= Fraction(resolution(printed)) / 2


def test_cl_05_end_float_in_either_unit_gets_one_verdict() -> None:
    """The same limits (seen): floats of ours on, inside and outside them, as read and converted."""
    new = Limits(Decimal(".006"), Decimal(".013"))
    in_mm = Limits(Decimal("0.1524"), Decimal("0.3302"))
    for size in (".0059", ".006", ".0095", ".013", ".0131"):
        one = gate(new, SIMPLE, Decimal(0)).judge(Decimal(size))
        other = gate(in_mm, SIMPLE, Decimal(0)).judge(convert(Decimal(size), "in", "mm"))
        assert one is other


def disagreements(factor: Fraction) -> list[str]:
    """Printed pairs that differ by more than the rounding of both columns."""
    found = []
    for row in rows("tm_limits"):
        for end in ("lo", "hi"):
            inches, millimetres = pair_of(row, end)
            if not inches:
                continue
            # The file has lost trailing zeros: the pages print at least .001 in and 0.01 mm.
            steps = (
                min(resolution(inches), Decimal(".001")),
                min(resolution(millimetres), Decimal("0.01")),
            )
            rounding = (Fraction(steps[0]) * factor + Fraction(steps[1])) / 2
            if abs(Fraction(inches) * factor - Fraction(millimetres)) > rounding:
                found.append(row["item"])
    return found


def test_cl_06_both_columns_of_eighteen_printed_limits_agree() -> None:
    """US Army technical manuals, pages named in the file (seen)."""
    assert len(rows("tm_limits")) == 18
    assert disagreements(Fraction(convert(Decimal(1), "in", "mm"))) == []
    assert len(disagreements(Fraction(25))) >= 10  # the audit does see a wrong factor


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
