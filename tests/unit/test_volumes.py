"""Volumes of a cylinder: signs, units, and what cannot be."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from capture.errors import UnitError
from capture.volumes import (
    Amount,
    Space,
    chamber_for_ratio,
    clearance_volume,
    compression_ratio,
    crown_for_ratio,
    cylinder,
    displacement,
    swept,
    volumes,
)


def mm(size: str) -> Amount:
    return Amount(Decimal(size), "mm")


def cc(size: str) -> Amount:
    return Amount(Decimal(size), "cm³")


SPACE = Space(
    bore=mm("87.2"),
    stroke=mm("80"),
    chamber=cc("45"),
    deck_clearance=mm("0.2"),
    gasket_bore=mm("88"),
    gasket_thickness=mm("1.1"),
    crown=cc("3"),
)


def test_the_parts_add_up() -> None:
    found = volumes(SPACE)
    parts = [found.chamber, found.gasket, found.deck, found.crevice]
    left = sum((Fraction(part) for part in parts), Fraction(0)) - Fraction(found.crown)
    assert Fraction(found.clearance) == left
    assert Fraction(found.total) == left + Fraction(found.swept)
    assert Fraction(found.ratio) == Fraction(found.total) / Fraction(found.clearance)
    assert found.crevice == 0


def test_signs_of_crown_and_deck() -> None:
    dome = volumes(SPACE).ratio
    dish = volumes(SPACE._replace(crown=cc("-3"))).ratio
    proud = volumes(SPACE._replace(deck_clearance=mm("-0.2")))
    assert dome > dish
    assert proud.deck < 0
    assert proud.ratio > dome


def test_the_crevice_above_the_top_ring() -> None:
    with_land = SPACE._replace(land_diameter=mm("86.6"), land_height=mm("6"))
    found = volumes(with_land)
    ring = Fraction(cylinder(mm("87.2"), mm("6"))) - Fraction(cylinder(mm("86.6"), mm("6")))
    assert found.crevice == ring
    assert found.ratio < volumes(SPACE).ratio


def test_inverses() -> None:
    with_land = SPACE._replace(land_diameter=mm("86.6"), land_height=mm("6"))
    found = volumes(with_land)
    assert chamber_for_ratio(with_land, found.ratio) == 45
    assert crown_for_ratio(with_land, found.ratio) == 3
    other = chamber_for_ratio(with_land, Decimal(10))
    assert volumes(with_land._replace(chamber=Amount(other, "mL"))).ratio == 10
    crown = crown_for_ratio(with_land, Decimal("11.5"))
    assert volumes(with_land._replace(crown=Amount(crown, "cm³"))).ratio == Decimal("11.5")
    assert clearance_volume(Decimal(90), Decimal(10)) == 10


def test_units_are_checked() -> None:
    with pytest.raises(UnitError):
        cylinder(cc("1"), mm("1"))
    with pytest.raises(UnitError):
        volumes(SPACE._replace(chamber=mm("45")))


@pytest.mark.parametrize(
    ("change", "wrong"),
    [
        ({"bore": mm("0")}, "diameter"),
        ({"stroke": mm("0")}, "stroke"),
        ({"crown": cc("60")}, "nothing is left"),
        ({"land_diameter": mm("86")}, "both"),
        ({"land_height": mm("6")}, "both"),
        ({"land_diameter": mm("88"), "land_height": mm("6")}, "larger than its bore"),
        ({"land_diameter": mm("86"), "land_height": mm("-6")}, "larger than its bore"),
    ],
)
def test_what_cannot_be(change: dict[str, Any], wrong: str) -> None:
    with pytest.raises(ValueError, match=wrong):
        volumes(SPACE._replace(**change))


def test_ratios_and_engines_that_cannot_be() -> None:
    for pair in ((0, 1), (1, 0), (1, -1)):
        with pytest.raises(ValueError, match="above zero"):
            compression_ratio(Decimal(pair[0]), Decimal(pair[1]))
    with pytest.raises(ValueError, match="above 1"):
        clearance_volume(Decimal(400), Decimal(1))
    with pytest.raises(ValueError, match="no room"):
        chamber_for_ratio(SPACE, Decimal(2000))
    with pytest.raises(ValueError, match="at least one cylinder"):
        displacement(mm("80"), mm("80"), 0)
    assert displacement(mm("80"), mm("80"), 4) == Fraction(swept(mm("80"), mm("80"))) * 4
