"""Stack of parts, bridge, flatness, volumes and compression ratio against printed examples."""

from __future__ import annotations

import math
import random
from decimal import Decimal
from fractions import Fraction
from itertools import combinations

import numpy as np
import pytest

from capture import deck
from capture.quantity import Number, convert, text
from capture.shapes import PI
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


def inches(size: str) -> Amount:
    return Amount(Decimal(size), "in")


def cc(size: str) -> Amount:
    return Amount(Decimal(size), "cm³")


def test_cr_01_compression_ratio() -> None:
    """A piston maker's calculation page (web page; search words "FAA powerplant handbook piston
    displacement", seen): clearance 100.00 cc, cylinder 823.70 cc."""
    ratio = compression_ratio(Decimal("823.70"), Decimal("100.00"))
    assert ratio == Decimal("9.237")
    assert clearance_volume(Decimal("823.70"), ratio) == 100


def test_cr_02_displacement_with_the_printed_rounded_factors() -> None:
    """Same page (seen): 4 × 4 × .7854 × 4.0 × 16.387 × 6 = 4942.2142 cc. The factors it prints
    are rounded; ours is within what that rounding makes."""
    printed = 4 * 4 * 0.7854 * 4.0 * 16.387 * 6
    assert printed == pytest.approx(4942.2142, abs=0.001)
    ours = float(displacement(inches("4"), inches("4.0"), 6))
    # .7854 is right to 0.00005 and 16.387 to 0.0005.
    assert abs(ours - printed) / printed < 0.00005 / 0.7854 + 0.0005 / 16.387


def test_cr_03_displacement_exact() -> None:
    """By a second route (own derivation): 10.16³ · π/4 · 6 = 4942.222 cc."""
    found = displacement(inches("4"), Amount(Decimal("101.6"), "mm"), 6)
    assert float(found) == pytest.approx(4942.222, abs=0.001)
    assert float(found) == pytest.approx(10.16**3 * math.pi / 4 * 6, rel=1e-14)


def test_cr_04_rod_length_compression_height_and_deck_clearance() -> None:
    """Same page (seen): block 9.025, deck .025, compression height 1.0, stroke 3.5 gives a rod of
    6.25; with a rod of 6.00 a compression height of 1.250; the third is the inverse."""
    block, gap, radius = Decimal("9.025"), Decimal("0.025"), Decimal("3.5") / 2
    assert deck.rod_length(block, radius, Decimal("1.0"), gap) == Decimal("6.25")
    assert deck.compression_height(block, radius, Decimal("6.00"), gap) == Decimal("1.250")
    stack = deck.Stack(block, radius, Decimal("6.00"), Decimal("1.25"))
    assert deck.deck_clearance(stack) == gap
    assert deck.block_height(radius, Decimal("6.00"), Decimal("1.25"), gap) == block


def test_cr_05_mixed_units() -> None:
    """Formula page "Formulas & Charts" (web page; search words "compression ratio example
    calculation swept volume", seen): bore 87 mm, stroke 69 mm, deck .06 in, head 50 cc gives
    410.25 cc (printed with a rounded π), 9.06 cc and 7.95."""
    bore, stroke = Amount(Decimal(87), "mm"), Amount(Decimal(69), "mm")
    space = Space(bore, stroke, cc("50"), inches(".06"), bore, inches("0"), cc("0"))
    found = volumes(space)
    assert float(found.swept) == pytest.approx(410.25, abs=0.1)
    assert float(found.deck) == pytest.approx(9.06, abs=0.01)
    assert float(found.ratio) == pytest.approx(7.95, abs=0.01)


def test_a_dish_a_gasket_and_a_deck_clearance_together() -> None:
    """A racing magazine's article on gasket volume measurements (web page; search words
    "calculating compression gasket volume measurements", seen): 43.731 in³ swept by a bore of 4 in,
    gasket 0.020 in thick 0.251328 in³, deck 0.41469 in³ (.033 in), piston 5 cc (0.305 in³) dished,
    chamber 64 cc (3.906 in³): 9.97."""
    space = Space(
        bore=inches("4"),
        stroke=inches("3.48"),
        chamber=cc("64"),
        deck_clearance=inches("0.033"),
        gasket_bore=inches("4"),
        gasket_thickness=inches("0.020"),
        crown=cc("-5"),
    )
    found = volumes(space)

    def cubic_inches(volume: Number) -> float:
        return float(convert(volume, "cm³", "in³"))

    assert cubic_inches(found.swept) == pytest.approx(43.731, abs=0.001)
    assert cubic_inches(found.gasket) == pytest.approx(0.251328, abs=1e-5)
    assert cubic_inches(found.deck) == pytest.approx(0.41469, abs=1e-5)
    assert -cubic_inches(found.crown) == pytest.approx(0.305, abs=0.0005)
    assert float(found.ratio) == pytest.approx(9.97, abs=0.005)
    assert chamber_for_ratio(space, found.ratio) == pytest.approx(64)
    assert crown_for_ratio(space, found.ratio) == pytest.approx(-5)


def test_the_dish_for_a_wanted_ratio() -> None:
    """Same calculation page as CR-01 (seen): chamber 60, gasket 10, deck 10, cylinder 823.7 cc,
    wanted 9.237: 20 cc to be added, a dish (negative here)."""
    bore = Amount(Decimal(10), "cm")
    area = Fraction(cylinder(bore, Amount(Decimal(1), "cm")))
    ten, stroke = Amount(10 / area, "cm"), Amount(Fraction("823.7") / area, "cm")
    space = Space(bore, stroke, cc("60"), ten, bore, ten, cc("0"))
    assert crown_for_ratio(space, Decimal("9.237")) == -20
    assert chamber_for_ratio(space, Decimal("9.237")) == 80


def test_a_cylinder_agrees_with_the_solid_of_revolution_integrated() -> None:
    """scipy.integrate as the second computer."""
    from scipy.integrate import quad

    area, _ = quad(lambda r: 2 * math.pi * r, 0, 8.7 / 2)
    assert float(swept(Amount(Decimal(87), "mm"), Amount(Decimal("6.9"), "cm"))) == pytest.approx(
        area * 6.9, rel=1e-12
    )


def test_pi_is_machin_s() -> None:
    """Machin 1706: π = 16·arctan(1/5) − 4·arctan(1/239), summed in ratios."""

    def arctan(inverse: int) -> Fraction:
        terms = (Fraction((-1) ** k, (2 * k + 1) * inverse ** (2 * k + 1)) for k in range(40))
        return sum(terms, Fraction(0))

    assert abs(PI - 16 * arctan(5) + 4 * arctan(239)) < Fraction(1, 10**40)
    assert text(PI) == "3.14159265359"  # twelve digits are shown, never fifty


def heights(case: int) -> dict[str, tuple[Number, Number, Number]]:
    """A deck of invented heights in µm over an uneven grid in mm, tilted and bent."""
    draw = random.Random(case)
    tilt, roll, bend = draw.uniform(-0.2, 0.2), draw.uniform(-0.2, 0.2), draw.uniform(-9, 9)
    columns, rows = draw.randint(2, 6), draw.randint(2, 4)
    return {
        f"{column}-{row}": (
            Decimal(100 * column + draw.randint(-30, 30) + 25 * row),
            Decimal(80 * row),
            Decimal(f"{tilt * 100 * column + roll * 80 * row + bend * (column - 2) ** 2:.1f}")
            + Decimal(draw.randint(-30, 30)) / 10,
        )
        for column in range(columns)
        for row in range(rows)
    }


@pytest.mark.parametrize("case", range(12))
def test_flatness_about_the_least_squares_plane_agrees_with_numpy(case: int) -> None:
    """numpy.linalg.lstsq as the second computer."""
    grid = heights(case)
    x, y, z = np.array([[float(value) for value in point] for point in grid.values()]).T
    design = np.column_stack([np.ones_like(x), x, y])
    answer, *_ = np.linalg.lstsq(design, z, rcond=None)
    rest = z - design @ answer
    found = deck.flatness_of_grid(grid)
    assert float(found.value) == pytest.approx(np.ptp(rest), abs=1e-9)
    ends = rest[[list(grid).index(found.highest), list(grid).index(found.lowest)]]
    assert ends[0] - ends[1] == pytest.approx(np.ptp(rest), abs=1e-9)


def chebyshev(points: list[tuple[Fraction, Fraction, Fraction]]) -> Fraction:
    """The minimum zone as the largest over sets of four: the widest gap between any two convex
    combinations with one foot (Radon), which is what forces a zone open (own derivation)."""
    widest = Fraction(0)
    for four in combinations(points, 4):
        # weights w with Σw = Σw·x = Σw·y = 0: the signed minors of the 3 × 4 matrix
        weights = []
        for left_out in range(4):
            (a, b, _), (c, d, _), (e, f, _) = (p for k, p in enumerate(four) if k != left_out)
            minor = (c - a) * (f - b) - (e - a) * (d - b)
            weights.append(minor * (-1) ** left_out)
        size = sum(map(abs, weights), Fraction(0)) / 2
        if size:
            gap = abs(sum((w * p[2] for w, p in zip(weights, four, strict=True)), Fraction(0)))
            widest = max(widest, gap / size)
    return widest


@pytest.mark.parametrize("case", range(12))
def test_the_minimum_zone_agrees_with_every_set_of_four(case: int) -> None:
    """Every four places decide a zone that cannot be narrower; by Helly's theorem the widest of
    them is the answer. A second way, in exact ratios, to the linear programme."""
    grid = heights(case)
    exactly = [(Fraction(x), Fraction(y), Fraction(z)) for x, y, z in grid.values()]
    zone = deck.least_zone(grid)
    assert zone == pytest.approx(float(chebyshev(exactly)), rel=1e-6)
    assert zone <= float(deck.flatness_of_grid(grid).value) * (1 + 1e-9)
