"""Standard tolerance grades against the tables of ISO 286."""

from __future__ import annotations

from decimal import Decimal

import pytest

from capture.grades import nearest_grade, tolerance
from tests.outside.tables import rows


def test_ru_08_three_grades_from_80_to_120_mm() -> None:
    """Formula of ISO 286-1 (memory) against the table in the package isofits 1.0 (seen)."""
    found = [float(tolerance(Decimal(100), grade)) for grade in (6, 7, 8)]
    assert found == pytest.approx([22, 35, 54], abs=0.5)


@pytest.mark.parametrize("row", rows("iso286_um"), ids=lambda row: row["size_mm"])
def test_the_grades_of_the_standard_s_table(row: dict[str, str]) -> None:
    """ISO 286-2 limit deviations (seen in isofits; source in the file). An H hole's upper deviation
    is its tolerance; a g or h shaft's are its upper less its lower."""
    size = Decimal(row["size_mm"])
    widths = {
        6: [int(row["H6_up"]), -int(row["h6_lo"]), int(row["g6_up"]) - int(row["g6_lo"])],
        7: [int(row["H7_up"])],
        8: [int(row["H8_up"])],
    }
    for grade, printed in widths.items():
        for width in printed:
            assert float(tolerance(size, grade)) == pytest.approx(width, abs=0.7)
            assert nearest_grade(size, Decimal(width)) == grade


def test_every_hole_of_the_reference_package() -> None:
    """isofits 1.0, H6 to H11 from 3 to 400 mm: each printed tolerance is that grade's, and within
    1 µm or a fortieth of the formula."""
    from data import hole_data

    checked = 0
    for column, upto in enumerate(hole_data["inc."]):
        size = Decimal(upto)
        for grade in range(6, 12):
            printed = float(hole_data[f"H{grade}"][column].split()[0])
            assert nearest_grade(size, Decimal(printed)) == grade
            assert float(tolerance(size, grade)) == pytest.approx(printed, abs=1, rel=0.025)
            checked += 1
    assert checked == 120
