"""Sizes brought to 20 °C: what is asked for, refused and warned of."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from capture.spec.model import Limits
from capture.temperature import (
    NOT_STATED,
    Correction,
    Unsure,
    Warmth,
    contributions,
    corrected,
    corrected_comparative,
    growth,
    warnings,
)

STEEL = Decimal("11.5")
COLD = Warmth(Decimal(20), STEEL)
STATED = Unsure(0.5, 1.0)


def limits(lower: str | None, upper: str | None) -> Limits:
    # An empty text stands for no limit.
    return Limits(lower and Decimal(lower), upper and Decimal(upper))  # type: ignore[arg-type]


def test_growth() -> None:
    assert growth(COLD) == 1
    assert growth(Warmth(Decimal(120), STEEL)) == Fraction("1.00115")
    assert growth(Warmth(Fraction(1, 3), STEEL)) < 1


@pytest.mark.parametrize(
    ("celsius", "coefficient", "why"),
    [("-300", "11.5", "below the coldest"), ("120", "-11500", "leaves nothing of a part")],
)
def test_the_impossible_is_an_error(celsius: str, coefficient: str, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        corrected(Decimal(88), Warmth(Decimal(celsius), Decimal(coefficient)), None)


def test_a_warm_part_is_smaller_at_20_degrees_and_a_warm_scale_shows_too_little() -> None:
    hot = Warmth(Decimal(30), STEEL)
    assert corrected(Decimal(88), hot, COLD).correction < 0
    assert corrected(Decimal(88), COLD, hot).correction > 0


def test_only_the_standard_expands_under_a_comparative_gauge() -> None:
    hot = Warmth(Decimal(30), Decimal(10))
    found = corrected_comparative(Decimal(88), Decimal("-0.012"), COLD, hot)
    assert found.uncorrected == Decimal("87.988")
    assert found.value == Decimal("87.988") + Decimal("0.0088")
    alone = corrected_comparative(Decimal(88), Decimal("-0.012"), COLD, None)
    assert alone.value == alone.uncorrected


def test_what_is_not_stated_contributes_nothing() -> None:
    hot = Warmth(Decimal(30), STEEL)
    assert contributions(Decimal(88), hot, hot, NOT_STATED, NOT_STATED) == []
    (one,) = contributions(Decimal(88), hot, None, Unsure(0.5, None), STATED)
    assert one.name == "temperature of the part"
    assert one.standard_uncertainty == pytest.approx(88 * 11.5e-6 * 0.5, rel=2e-4)


def test_at_20_degrees_the_coefficient_does_not_matter() -> None:
    found = contributions(Decimal(88), COLD, None, STATED, NOT_STATED)
    assert [one.standard_uncertainty for one in found] == [pytest.approx(88 * 11.5e-6 * 0.5), 0.0]


def correction(by: str) -> Correction:
    return Correction(Decimal(88) + Decimal(by), Decimal(88), Decimal(by))


@pytest.mark.parametrize(
    ("by", "bounds", "warned"),
    [
        ("0.0019", ("88.00", "88.02"), []),
        ("0.0020", ("88.00", "88.02"), []),  # a tenth exactly
        ("-0.0024", ("88.00", "88.02"), ["12 % of the tolerance, more than 10 %"]),
        ("-0.0021", (None, "88.02"), []),
        ("-0.0021", (None, None), []),
        ("-0.0021", ("88.00", "88.00"), []),
    ],
)
def test_a_correction_beyond_a_tenth_of_the_tolerance_is_warned_of(
    by: str, bounds: tuple[str | None, str | None], warned: list[str]
) -> None:
    found = warnings(correction(by), COLD, COLD, limits(*bounds), STATED, STATED)
    assert len(found) == len(warned)
    assert all(words in text for text, words in zip(found, warned, strict=True))


@pytest.mark.parametrize(
    ("celsius", "apart"), [("22", None), ("22.5", "2.5 °C"), ("17.9", "2.1 °C"), ("20", None)]
)
def test_a_part_much_warmer_or_colder_than_its_gauge_is_warned_of(
    celsius: str, apart: str | None
) -> None:
    part = Warmth(Decimal(celsius), STEEL)
    found = warnings(correction("0"), part, COLD, limits(None, None), STATED, STATED)
    assert [text for text in found if apart and apart in text] == list(found)
    assert len(found) == (apart is not None)


def test_what_is_missing_is_said() -> None:
    (one, other) = warnings(correction("0"), COLD, None, limits(None, None))
    assert one == "the gauge's own expansion is not stated: only the part is corrected"
    assert other == (
        "uncertainty not stated of the temperature of the part and the expansion of the part"
    )
    found = warnings(correction("0"), COLD, COLD, limits(None, None), STATED, Unsure(0.5, None))
    assert found == ("uncertainty not stated of the expansion of the scale",)
