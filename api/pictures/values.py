"""Numbers that plots are made of, with the digits they were given in."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

Size = str | Decimal | Fraction | int | float
"""Decimal text is shown as it was sent."""


class Value(NamedTuple):
    """One value of a plot, in the plot's unit."""

    label: str
    """What stands below it."""
    value: Size | None
    """None: it is missing."""
    expanded: Size | None = None
    """Expanded uncertainty: ± this."""
    lower: Size | None = None
    upper: Size | None = None
    """Its own limits, where they are not the plot's."""
    result: str = ""
    bracket: tuple[Size | None, Size | None] | None = None
    """Between which two it lies, where no one value is known; None is open."""
    href: str = ""
    note: str = ""


class Line(NamedTuple):
    """A level with a word: a target, a mean."""

    value: Size
    label: str


def number(size: Size) -> float:
    """As far as a picture needs it."""
    return float(size)


def said(size: Size) -> str:
    """The digits, as text."""
    if isinstance(size, float | Fraction):
        return f"{float(size):.6g}".replace("-", "−")
    digits = format(size, "f") if isinstance(size, Decimal) else str(size)
    return digits.replace("-", "−")


def ends(value: Value) -> list[float]:
    """Everything that is drawn of a value, along its axis."""
    found = [
        number(one) for one in (value.lower, value.upper, *(value.bracket or ())) if one is not None
    ]
    if value.value is not None:
        middle = number(value.value)
        half = number(value.expanded) if value.expanded is not None else 0.0
        found += [middle - half, middle + half]
    return found
