"""Correction of sizes to 20 °C against published examples."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

import pytest

from capture.shapes import clearance
from capture.spec.model import Basis
from capture.temperature import Unsure, Warmth, contributions, corrected, corrected_comparative
from capture.uncertainty import combine


def warm(celsius: str, coefficient: str) -> Warmth:
    return Warmth(Decimal(celsius), Decimal(coefficient))


def test_th_01_steel_rod_brought_to_20_degrees() -> None:
    """NPL frequently asked questions "How do I correct lengths to 20 °C?", npl.co.uk/reference/faqs
    (seen): 500.035 mm at 23.7 °C with 11.7e-6 per °C is 500.013 mm."""
    found = corrected(Decimal("500.035"), warm("23.7", "11.7"), None)
    assert float(found.value) == pytest.approx(500.013, abs=0.0005)
    assert found.uncorrected == Decimal("500.035")
    assert float(found.correction) == pytest.approx(-0.02165, abs=1e-5)


def test_th_02_growth_over_a_shift() -> None:
    """A page on the effect of temperature on dimensional measurement (seen): 300 mm of steel grows
    by more than 30 µm from 24 °C to 34 °C; α = 11.5e-6 per °C gives 34.5 µm."""
    cold = corrected(Decimal(300), warm("24", "11.5"), None)
    hot = corrected(Decimal(300), warm("34", "11.5"), None)
    grown = float(cold.value) - float(hot.value)  # a part that shows 300 when hot is smaller
    assert grown > 0.030
    assert grown == pytest.approx(0.0345, abs=5e-5)


def test_th_03_piston_to_bore_clearance_of_a_warm_engine() -> None:
    """Aluminium 23.1e-6 and iron 11.5e-6 per °C as in PMC8345254, a NIST report (coefficients seen,
    sizes ours): piston 85.950 and bore 85.990 mm at 28 °C are 85.93412 and 85.98209 at 20 °C."""
    piston = corrected(Decimal("85.950"), warm("28", "23.1"), None)
    bore = corrected(Decimal("85.990"), warm("28", "11.5"), None)
    assert float(piston.value) == pytest.approx(85.93412, abs=1e-5)
    assert float(bore.value) == pytest.approx(85.98209, abs=1e-5)
    room = clearance([bore.value], [piston.value], Basis.MEAN)
    assert float(room) == pytest.approx(0.04797, abs=1e-5)
    shown = clearance([bore.uncorrected], [piston.uncorrected], Basis.MEAN)
    assert float(shown) == pytest.approx(0.040)


def test_th_04_first_order_and_exact_form_agree() -> None:
    """Inputs of the NPL example; L/(1 + αΔt) is 500.01335 and L(1 − αΔt) within a nanometre of
    it."""
    found = corrected(Decimal("500.035"), warm("23.7", "11.7"), None)
    exact = Fraction("500.035") / (1 + Fraction("0.0000117") * Fraction("3.7"))
    first_order = Fraction("500.035") * (1 - Fraction("0.0000117") * Fraction("3.7"))
    assert Fraction(found.value) == exact
    assert float(exact) == pytest.approx(500.01335, abs=1e-5)
    assert abs(exact - first_order) < Fraction(1, 1_000_000)


def test_a_part_as_warm_as_its_scale_of_the_same_steel_needs_no_correction() -> None:
    """ISO 1: what matters is how much more the part grew than the scale."""
    both = warm("35", "11.5")
    found = corrected(Decimal("88.000"), both, both)
    assert found.value == found.uncorrected
    assert found.correction == 0


def test_gum_h1_comparison_of_end_gauges() -> None:
    """GUM (JCGM 100:2008) H.1, github MSLNZ/GTC docs/API/GUM_H1.rst commit 6d606b14 (seen):
    standard 50.000 623 mm, difference 215 nm, both at 19.9 °C and alike: 50.000 838 mm."""
    both = warm("19.9", "11.5")
    standard, difference = Decimal("50.000623"), Decimal("0.000215")
    found = corrected_comparative(standard, difference, both, both)
    assert float(found.value) == pytest.approx(50.000838, abs=1e-9)


def test_contributions_agree_with_gtc_on_the_whole_model() -> None:
    """GTC 1.5 propagates the exact form with all four inputs."""
    from GTC import ureal

    part, scale = warm("27.5", "22.8"), warm("23.0", "11.5")
    found = contributions(Decimal("85.950"), part, scale, Unsure(0.4, 0.7), Unsure(0.2, 0.5))
    part_t, part_a = ureal(27.5, 0.4), ureal(22.8e-6, 0.7e-6)
    scale_t, scale_a = ureal(23.0, 0.2), ureal(11.5e-6, 0.5e-6)
    size = 85.950 * (1 + scale_a * (scale_t - 20)) / (1 + part_a * (part_t - 20))
    assert [one.name for one in found] == [
        "temperature of the part",
        "expansion of the part",
        "temperature of the scale",
        "expansion of the scale",
    ]
    expected = [abs(float(size.sensitivity(x) * x.u)) for x in (part_t, part_a, scale_t, scale_a)]
    assert [one.standard_uncertainty for one in found] == pytest.approx(expected, rel=1e-3)
    assert combine(found).standard_uncertainty == pytest.approx(float(size.u), rel=1e-3)
    assert not math.isclose(found[0].standard_uncertainty, 0.0)
