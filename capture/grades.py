"""Standard tolerance grades (ISO 286-1), to say how fine a tolerance is.

These are the formula's values, which describe a tolerance that a spec gives; they are never limits
of an engine, and nothing here is used as one.
"""

from __future__ import annotations

from decimal import Context, Decimal
from fractions import Fraction
from itertools import pairwise
from typing import Final

from capture.quantity import Number

# Nominal steps in mm, each over its first and up to its last (ISO 286-1 table 1, from memory;
# agrees with the steps of the package isofits where a grade's value changes).
_STEPS: Final = (3, 6, 10, 18, 30, 50, 80, 120, 180, 250, 315, 400, 500)

_UNITS: Final = {
    5: 7,
    6: 10,
    7: 16,
    8: 25,
    9: 40,
    10: 64,
    11: 100,
    12: 160,
    13: 250,
    14: 400,
    15: 640,
    16: 1000,
    17: 1600,
    18: 2500,
}
"""Grade → tolerance units i."""


def tolerance_unit(size: Number) -> Fraction:
    """i = 0.45·∛D + 0.001·D in µm, of a size in mm over 3 and up to 500; D is the geometric mean of
    the step the size stands in. Good to 30 digits."""
    for over, upto in pairwise(_STEPS):
        if over < size <= upto:
            break
    else:
        raise ValueError("tolerance grades are given here for sizes over 3 mm, up to 500 mm")
    context = Context(prec=34)
    # ∛√(a·b) by logarithm: ln and exp are correctly rounded, so alike on every machine.
    product = Decimal(over * upto)
    root = context.exp(context.divide(context.ln(product), Decimal(6)))
    middle = context.sqrt(product)
    return Fraction("0.45") * Fraction(root) + Fraction("0.001") * Fraction(middle)


def tolerance(size: Number, grade: int) -> Fraction:
    """The width of IT5 to IT18 in µm for a size in mm, by the formula of ISO 286-1.

    The standard's printed tables are rounded from these (up to 1 µm or a fortieth apart, seen for
    IT6 to IT11 up to 400 mm); where they differ the tables govern.
    """
    if grade not in _UNITS:
        raise ValueError("tolerance grades are given here for IT5 to IT18")
    return tolerance_unit(size) * _UNITS[grade]


def nearest_grade(size: Number, width: Number) -> int | None:
    """The grade whose tolerance is nearest in ratio to ``width`` µm, for a size in mm: "about IT7".

    Nearest rather than within, because the printed tables differ from the formula by rounding.
    None where the width is more than a quarter finer than IT5 or wider than IT18 (neighbouring
    grades stand about 1 : 1.6).
    """
    if width <= 0:
        raise ValueError("the width of a tolerance is above zero")
    ratios = {grade: Fraction(width) / tolerance(size, grade) for grade in _UNITS}
    if ratios[5] < Fraction(3, 4) or ratios[18] > Fraction(5, 4):
        return None
    return min(ratios, key=lambda grade: max(ratios[grade], 1 / ratios[grade]))
