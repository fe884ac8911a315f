"""Corrections commute with every change of unit, exactly."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from capture.quantity import convert
from capture.temperature import Warmth, corrected, corrected_comparative

SIZES = st.decimals(min_value=1, max_value=1000, places=4)
DEVIATIONS = st.decimals(min_value=-1, max_value=1, places=4)
WARMTHS = st.builds(
    Warmth,
    st.decimals(min_value=-40, max_value=150, places=2),
    st.decimals(min_value=0, max_value=30, places=2),
)
UNITS = st.sampled_from(["mm", "in", "µm", "m"])


@given(SIZES, WARMTHS, st.one_of(st.none(), WARMTHS), UNITS, UNITS)
def test_corrections_commute_with_conversion(
    size: Decimal, part: Warmth, scale: Warmth | None, unit: str, to: str
) -> None:
    before = corrected(convert(size, unit, to), part, scale)
    after = corrected(size, part, scale)
    assert [Fraction(one) for one in before] == [Fraction(convert(one, unit, to)) for one in after]


@given(SIZES, DEVIATIONS, WARMTHS, WARMTHS, UNITS, UNITS)
def test_comparative_corrections_commute_with_conversion(
    standard: Decimal, deviation: Decimal, part: Warmth, warm: Warmth, unit: str, to: str
) -> None:
    before = corrected_comparative(
        convert(standard, unit, to), convert(deviation, unit, to), part, warm
    )
    after = corrected_comparative(standard, deviation, part, warm)
    assert [Fraction(one) for one in before] == [Fraction(convert(one, unit, to)) for one in after]


@given(SIZES, WARMTHS, WARMTHS)
def test_temperatures_may_be_read_in_fahrenheit(size: Decimal, part: Warmth, scale: Warmth) -> None:
    through = [
        one._replace(celsius=convert(convert(one.celsius, "°C", "°F"), "°F", "°C"))
        for one in (part, scale)
    ]
    assert corrected(size, *through) == corrected(size, part, scale)


@given(SIZES, WARMTHS, st.one_of(st.none(), WARMTHS))
def test_value_is_uncorrected_and_correction(
    size: Decimal, part: Warmth, scale: Warmth | None
) -> None:
    found = corrected(size, part, scale)
    assert found.uncorrected == size
    assert Fraction(found.value) == Fraction(size) + Fraction(found.correction)


@given(SIZES, DEVIATIONS, WARMTHS)
def test_an_absolute_gauge_is_a_comparative_one_on_its_own_scale(
    size: Decimal, deviation: Decimal, part: Warmth
) -> None:
    whole = corrected(size + deviation, part, None)
    assert corrected_comparative(size, deviation, part, None) == whole
