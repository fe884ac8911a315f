"""Tolerance grades: steps, order and what is not given."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from capture.grades import nearest_grade, tolerance, tolerance_unit


def test_a_step_goes_up_to_its_last_size() -> None:
    assert tolerance_unit(Decimal("80.001")) == tolerance_unit(Decimal(120))
    assert tolerance_unit(Decimal(80)) < tolerance_unit(Decimal("80.001"))
    assert tolerance_unit(Fraction(250, 3)) == tolerance_unit(Decimal(100))


def test_grades_grow_coarser() -> None:
    widths = [tolerance(Decimal(50), grade) for grade in range(5, 19)]
    assert widths == sorted(widths)
    assert [nearest_grade(Decimal(50), width) for width in widths] == list(range(5, 19))


def test_a_width_beyond_the_grades_has_none() -> None:
    assert nearest_grade(Decimal(50), Decimal("5")) is None
    assert nearest_grade(Decimal(50), Decimal("9")) == 5
    assert nearest_grade(Decimal(50), Decimal("9000")) is None


def test_what_is_not_given() -> None:
    for size in ("3", "500.01", "0"):
        with pytest.raises(ValueError, match="over 3 mm"):
            tolerance_unit(Decimal(size))
    for grade in (4, 19):
        with pytest.raises(ValueError, match="IT5 to IT18"):
            tolerance(Decimal(50), grade)
    with pytest.raises(ValueError, match="above zero"):
        nearest_grade(Decimal(50), Decimal(0))
