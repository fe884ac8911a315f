"""Offset extensions: exact where they can be, refused where they cannot work."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from capture.extension import Extension, cosine, factor, setting_for, torque_at_fastener


def made(tool: str, length: str, angle: str) -> Extension:
    return Extension(Decimal(tool), Decimal(length), Decimal(angle), "mm")


@pytest.mark.parametrize(
    ("angle", "expected"),
    [
        ("0", Fraction(6, 5)),
        ("60", Fraction(11, 10)),
        ("90", Fraction(1)),
        ("120.0", Fraction(9, 10)),
        ("180", Fraction(4, 5)),
        ("270", Fraction(1)),
        ("-90", Fraction(1)),
        ("360", Fraction(6, 5)),
        ("-180", Fraction(4, 5)),
    ],
)
def test_angles_whose_cosine_is_a_ratio_are_exact(angle: str, expected: Fraction) -> None:
    assert factor(made("400", "80", angle)) == expected


def test_no_extension_changes_nothing() -> None:
    assert factor(made("400", "0", "37")) == 1


def test_setting_and_torque_are_inverse() -> None:
    for angle in ("0", "33.3", "90", "147", "180"):
        extension = made("400", "57.5", angle)
        assert torque_at_fastener(setting_for(Decimal(80), extension), extension) == 80


def test_turned_toward_the_grip_the_fastener_gets_less() -> None:
    at = [factor(made("400", "80", str(angle))) for angle in range(0, 181, 5)]
    assert at == sorted(at, reverse=True)
    assert len(set(at)) == len(at)


def test_both_ways_round_are_the_same() -> None:
    assert cosine(Decimal("33.3")) == cosine(Decimal("-33.3")) == cosine(Decimal("326.7"))
    assert cosine(Decimal("146.7")) == -cosine(Decimal("33.3"))


def test_a_stored_cosine_stays_what_it_was() -> None:
    """Every platform and every later version must compute what earlier histories hold."""
    assert cosine(Decimal(45)) == Fraction(69204534829885399096, 97869991734145163607)


@pytest.mark.parametrize(
    ("tool", "length", "angle", "wrong"),
    [
        ("0", "50", "0", "tool's length"),
        ("-1", "50", "0", "tool's length"),
        ("400", "-50", "0", "not negative"),
        ("400", "400", "180", "does not tighten"),
        ("400", "900", "120", "does not tighten"),
        ("NaN", "50", "0", "plain numbers"),
        ("400", "Infinity", "0", "plain numbers"),
        ("400", "50", "NaN", "plain numbers"),
    ],
)
def test_what_cannot_be(tool: str, length: str, angle: str, wrong: str) -> None:
    with pytest.raises(ValueError, match=wrong):
        factor(made(tool, length, angle))
