"""Exact sizes as whole numbers of a common step, so that no rounding decides between two fits."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import reduce

from capture.quantity import Number, add

Key = str | int
"""What a part is called: its number, or a word."""


def step_of(*groups: Sequence[Number | None]) -> Fraction:
    """The largest step of which every value is a whole number (None is passed over); 1 where all
    are 0."""
    fractions = [Fraction(value) for group in groups for value in group if value is not None]
    below = math.lcm(*(value.denominator for value in fractions))
    above = math.gcd(*(value.numerator * (below // value.denominator) for value in fractions))
    return Fraction(above or 1, below)


def steps(value: Number, step: Fraction) -> int:
    """How many steps ``value`` is."""
    count = Fraction(value) / step
    assert count.denominator == 1, f"{value} is not a whole number of {step}"
    return count.numerator


def less(one: Number, *others: Number) -> Number:
    """``one`` less all the others, exactly; decimals keep the places they were given with."""
    for other in others:
        one = add(one, other.copy_negate() if isinstance(other, Decimal) else -other)
    return one


def apart(one: Number, two: Number) -> Number:
    """How far the two are apart; never negative."""
    difference = less(one, two)
    return difference if difference >= 0 else less(two, one)


def total(values: Iterable[Number]) -> Number:
    """The exact sum; 0 where there are none."""
    nothing: Number = Decimal(0)
    return reduce(add, values, nothing)


def by_size(parts: Mapping[Key, Number]) -> list[Key]:
    """The parts from small to large; equal ones by number, then by word."""
    return sorted(parts, key=lambda key: (parts[key], isinstance(key, str), key))
