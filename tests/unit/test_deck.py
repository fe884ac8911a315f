"""Deck clearance, rock and flatness."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from capture.deck import (
    BridgeReadings,
    Flatness,
    Stack,
    Tilt,
    bridge,
    deck_clearance,
    flatness_by_feeler,
    flatness_of_grid,
    least_squares_plane,
    least_zone,
)
from capture.quantity import Number


def readings(front: str, rear: str, thrust: str, opposite: str) -> BridgeReadings:
    return BridgeReadings(Decimal(front), Decimal(rear), Decimal(thrust), Decimal(opposite))


def face(*heights: str) -> dict[str, tuple[Number, Number, Number]]:
    """Heights row by row on a face of three columns."""
    places = {}
    for row, line in enumerate(heights):
        for column, height in enumerate(line.split()):
            places[f"{row}{column}"] = (Decimal(column), Decimal(row), Decimal(height))
    return dict(places)


def test_a_piston_out_of_its_block_is_negative() -> None:
    stack = Stack(Decimal("200"), Decimal("40"), Decimal("130"), Decimal("30.05"))
    assert deck_clearance(stack) == Decimal("-0.05")


def test_rock_is_averaged_out() -> None:
    level, rocked = (
        readings("0.20", "0.20", "0.20", "0.20"),
        readings("0.20", "0.20", "0.27", "0.13"),
    )
    assert bridge(level).clearance == bridge(rocked).clearance == Decimal("0.20")
    assert bridge(rocked).rock_across == Decimal("0.14")
    assert bridge(rocked).rock_along == 0
    assert bridge(rocked).disagreement == 0


def test_each_way_of_rock_and_the_readings_that_show_it() -> None:
    found = bridge(readings("0.18", "0.22", "0.17", "0.23"))
    assert found.rock_along == Decimal("-0.04")
    assert found.rock_across == Decimal("-0.06")
    assert (found.highest, found.lowest) == ("thrust", "opposite")
    assert bridge(readings("-0.05", "0.01", "0.02", "0.02")).highest == "front"


def test_one_wrong_reading_shows_as_a_disagreement_of_the_pairs() -> None:
    found = bridge(readings("0.20", "0.20", "0.27", "0.33"))
    assert found.disagreement == Decimal("-0.10")


def test_flatness_by_feeler_is_the_largest_gap_and_its_line() -> None:
    gaps = {"length": Decimal("0.03"), "diagonal": Decimal("0.05"), "other": Decimal("0.05")}
    assert flatness_by_feeler(gaps) == (Decimal("0.05"), "diagonal")
    with pytest.raises(ValueError, match="at least one line"):
        flatness_by_feeler({})
    with pytest.raises(ValueError, match="not negative"):
        flatness_by_feeler({"length": Decimal("-0.01")})


def test_a_tilted_flat_face_is_flat() -> None:
    tilted = face("0 3 6", "5 8 11", "10 13 16")
    assert flatness_of_grid(tilted).value == 0
    assert least_zone(tilted) == 0
    assert least_squares_plane(list(tilted.values())) == Tilt(Fraction(0), Fraction(3), Fraction(5))


def test_one_low_corner_is_named() -> None:
    found = flatness_of_grid(face("0 0 0", "0 0 0", "0 0 -9"))
    # The plane follows the corner by 1/9 + 1/6 + 1/6 of it, and by 1/9 + 1/6 in the middle of a
    # side beside it: those two ends stand 5 under and 2.5 over the plane.
    assert found == Flatness(Decimal("7.5"), found.highest, "22")
    assert found.highest in ("12", "21")


def test_a_face_needs_places_across() -> None:
    line: dict[str, tuple[Number, Number, Number]] = {
        str(x): (Decimal(x), Decimal(2 * x), Decimal(0)) for x in range(4)
    }
    for wrong, said in ((line, "on one line"), (dict(list(line.items())[:2]), "three places")):
        for flatness in (flatness_of_grid, least_zone):
            with pytest.raises(ValueError, match=said):
                flatness(wrong)


def test_the_minimum_zone_does_not_depend_on_the_unit_of_the_face() -> None:
    millimetres = face("0 1 0", "2 0 1", "0 3 1")
    inches = {
        place: (Fraction(x) * 5 / 127 + 900, Fraction(y) * 5 / 127 - 70, Fraction(z) / 25400)
        for place, (x, y, z) in millimetres.items()
    }
    zone = least_zone(millimetres)
    assert zone > 0
    assert least_zone(dict(inches)) == pytest.approx(zone / 25400, rel=1e-9)
