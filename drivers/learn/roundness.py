"""How round a scale is: which worth of a count, of those that fit, somebody would have built.

A scale has so many counts to the unit, to the inch or to the turn, or a count is worth so many
thousandths. Such numbers have few factors beside twos and fives. The fewer, the rarer they are, and
the less likely one of them lies between the bounds by accident.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor, log2
from typing import NamedTuple

_REFERENCES: dict[str, tuple[Fraction, ...]] = {
    "mm": (Fraction(1), Fraction("25.4")),
    "in": (Fraction(1), 1 / Fraction("25.4")),
    "°": (Fraction(1), Fraction(360)),
}
_MOST = 4000
"""Whole numbers between the bounds that are looked at: with more the bounds say nothing."""
_CHANCE = 0.06
"""How likely so round a number may be between the bounds by accident."""
_MANY = 1000
"""Counts of the largest size; with fewer the display's rounding is too coarse to go by."""
_PER_E = 10.0
"""Numbers of twos and fives alone in a factor of e, over all references."""
_APART = 3.0
"""How much rounder the roundest must be than the next."""


class Round(NamedTuple):
    """A worth of one count, and how odd its number is (1: twos and fives alone)."""

    worth: Fraction
    odd: float


def roundest(low: Fraction, high: Fraction, unit: str, most: Fraction) -> Fraction | None:
    """The one round worth between the bounds (in ``unit``); None where none is, or several.
    ``most``: the largest count, few of which say little."""
    found: dict[Fraction, float] = {}
    for size in _REFERENCES.get(unit, (Fraction(1),)):
        for one in (*_per(size, low, high), *_steps(low, high), *_smooth(size, low, high)):
            found[one.worth] = min(one.odd, found.get(one.worth, one.odd))
    ranked = sorted(found.items(), key=lambda pair: pair[1])
    if not ranked:
        return None
    worth, odd = ranked[0]
    if len(ranked) > 1 and ranked[1][1] < _APART * odd:
        return None
    width = float((high - low) / low)
    chance = _CHANCE if most >= _MANY else _CHANCE / 3
    return worth if width * _PER_E * max(1.0, 0.4 * odd) <= chance else None


def _per(size: Fraction, low: Fraction, high: Fraction) -> list[Round]:
    """So many counts to ``size``."""
    first, last = max(2, ceil(size / high)), floor(size / low)
    if last - first > _MOST:
        return []
    return [Round(size / whole, oddness(whole)) for whole in range(first, last + 1)]


def _smooth(size: Fraction, low: Fraction, high: Fraction) -> list[Round]:
    """Twos and fives alone, above and below the line: 1024 counts to 25."""
    found = []
    for fives in range(-4, 5):
        part = size * Fraction(5) ** fives
        twos = ceil(log2(float(low / part)) - 1e-9)
        worth = part * Fraction(2) ** twos
        if low <= worth <= high:
            found.append(Round(worth, 1 + 0.1 * abs(fives)))
    return found


def _steps(low: Fraction, high: Fraction) -> list[Round]:
    """Counts of a few units of some decimal place."""
    found = []
    for places in range(8):
        first, last = ceil(low * 10**places), floor(high * 10**places)
        if first >= 1 and last <= 999:
            found += [
                Round(Fraction(whole, 10**places), oddness(whole))
                for whole in range(first, last + 1)
            ]
    return found


def oddness(whole: int) -> float:
    """What is left of a number without its twos and fives, and a bit for both together."""
    twos = fives = 0
    while whole % 2 == 0:
        whole, twos = whole // 2, twos + 1
    while whole % 5 == 0:
        whole, fives = whole // 5, fives + 1
    return whole * (1 + 0.05 * min(twos, fives) + 0.1 * max(0, fives - twos))
