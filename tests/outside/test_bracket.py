"""Sizes known between two values, against the rectangular distribution of the GUM."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from uncertainties import ufloat

from capture.bracket import Bracket, By, combined, estimate, judge
from capture.check import Result, gate
from capture.spec.model import Decision, Limits, Rule


def test_ck_04_breakaway_torque_from_a_bracket() -> None:
    """Click at 12 N·m without motion, turns before the click at 14 N·m: 13; a = 1; u = 0.57735.
    Rectangular distribution, u = a/√3: JCGM 100:2008 (GUM) 4.3.7; the formula was seen in suncal
    1.7.1 (PyPI), test/test_dists.py test_uniform."""
    found = estimate(Bracket(Decimal(12), Decimal(14), By.SETTINGS))
    assert found.mid == 13
    assert found.half_width == 1
    assert found.u == pytest.approx(0.57735, abs=1e-5)


def test_ck_04_against_scipys_uniform_distribution() -> None:
    """scipy.stats.uniform over the same interval."""
    from scipy.stats import uniform

    found = estimate(Bracket(Decimal("0.25"), Decimal("0.30"), By.LEAVES))
    reference = uniform(loc=0.25, scale=0.05)
    assert float(found.mid) == pytest.approx(reference.mean(), abs=1e-15)
    assert found.u == pytest.approx(reference.std(), rel=1e-12)


def test_ck_06_bracket_combined_with_the_tools_deviation() -> None:
    """18 N·m no turn, 20 N·m turns; tool ±4 % of value, rectangular: 19; 0.7252 ± 0.0001 (GUM
    4.3.7 twice, root sum of squares; our own derivation)."""
    found = estimate(Bracket(Decimal(18), Decimal(20), By.SETTINGS))
    u = combined(found, Fraction(found.mid) * 4 / 100)
    assert found.mid == 19
    assert u == pytest.approx(0.7252, abs=1e-4)


def test_ck_06_combination_agrees_with_the_uncertainties_library() -> None:
    """uncertainties 3 (PyPI): the sum of a size and two independent deviations."""
    found = estimate(Bracket(Decimal(18), Decimal(20)))
    deviations = [Decimal("0.76"), Decimal("0.3")]
    whole = ufloat(19, found.u) + sum(ufloat(0, float(each) / 3**0.5) for each in deviations)
    assert combined(found, *deviations) == pytest.approx(whole.std_dev, rel=1e-12)


def test_short_block_turning_torque_found_with_a_click_tool() -> None:
    """Common practice, no source: a freshly assembled V8 short block turns at 35 to 40 lbf·ft,
    found by raising a click-type tool in steps of about 5 until the crank rolls through a turn
    without a click."""
    last, first = Decimal(35), Decimal(40)
    bracket = Bracket(last, first, By.SETTINGS)
    usual = gate(Limits(last, first), Decision(Rule.SIMPLE), None)
    assert judge(bracket, usual) is Result.CONFORMING
    assert judge(Bracket(first, Decimal(45), By.SETTINGS), usual) is Result.NONCONFORMING
