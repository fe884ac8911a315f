"""Mean, standard deviation and autocorrelation, summed exactly.

Readings are decimals. Brought over a common denominator they are whole numbers, so that their sums
and sums of squares have no error at all, however many leading digits they share; a float is made
once, at the end. That is what the NIST reference data sets for numerical accuracy ask for.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from capture.quantity import Number


class Moments(NamedTuple):
    """What a set of readings comes to, in their unit."""

    n: int
    mean: float
    standard_deviation: float
    """With n − 1; 0 of a single reading."""


def whole(values: Sequence[Number]) -> tuple[list[int], int]:
    """The values as whole numbers over one denominator.

    Raises ValueError for a value that is not finite.
    """
    try:
        ratios = [value.as_integer_ratio() for value in values]
    except (OverflowError, ValueError):
        raise ValueError("A reading is not a finite number: leave it out.") from None
    denominator = math.lcm(*(ratio[1] for ratio in ratios))
    return [above * (denominator // below) for above, below in ratios], denominator


def mean(values: Sequence[Number]) -> Fraction:
    """The exact mean. Raises ValueError where there is no value, or one is not finite."""
    if not values:
        raise ValueError("A mean takes at least one reading.")
    numbers, denominator = whole(values)
    return Fraction(sum(numbers), len(numbers) * denominator)


def squares(values: Sequence[Number]) -> Fraction:
    """The exact sum of squared deviations from the mean."""
    numbers, denominator = whole(values)
    count, total = len(numbers), sum(numbers)
    about = count * sum(number * number for number in numbers) - total * total
    return Fraction(about, max(count, 1) * denominator * denominator)


def moments(values: Sequence[Number]) -> Moments:
    """Count, mean and standard deviation. Raises ValueError where there is no value."""
    centre = mean(values)
    count = len(values)
    variance = squares(values) / (count - 1) if count > 1 else Fraction(0)
    return Moments(count, float(centre), math.sqrt(variance))


def lag_one(values: Sequence[Number]) -> float | None:
    """The autocorrelation of neighbours: how far each reading follows the one before it.

    Σ (xᵢ − x̄)(xᵢ₋₁ − x̄) / Σ (xᵢ − x̄)², as NIST defines it for its univariate data sets. None
    where all values are the same. Raises ValueError where there are fewer than two.
    """
    count = len(values)
    if count < 2:
        raise ValueError(f"Autocorrelation takes at least two readings, not {count}.")
    numbers, _ = whole(values)
    total = sum(numbers)
    offsets = [count * number - total for number in numbers]
    below = sum(offset * offset for offset in offsets)
    above = sum(one * other for one, other in pairwise(offsets))
    return float(Fraction(above, below)) if below else None
