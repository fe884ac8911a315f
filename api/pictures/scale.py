"""Axes: which part of the numbers an axis shows, where its round numbers stand, what they say."""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from capture.trace.samples import Floats

PLAIN: Final = (-3, 5)
"""Powers of ten of the largest size that are written out; others go into the axis's unit."""
STICKS_OUT: Final = 0.03
"""What reaches this little to the other side of zero (noise about the rest) gets no axis there."""
FINEST: Final = 1e-9
"""What differs by less is drawn as one."""
EDGE: Final = 0.04
"""Between the outermost value and the end of an axis, at least, as a part of all of it."""
ROUND: Final = (1, 2, 5, 10)


class Axis(NamedTuple):
    """An axis of the picture, in numbers divided by ten to the ``power``."""

    low: float
    high: float
    ticks: list[float]
    labels: list[str]
    power: int

    def shown(self, value: float) -> float:
        """A value on this axis."""
        return scaled(value, -self.power)

    def unit(self, unit: str) -> str:
        """The unit with the power of ten that was taken out, if any."""
        return f"10{_raised(self.power)} {unit}" if self.power else unit


def axis(values: Floats | Sequence[float], steps: int, *, tight: bool = False) -> Axis:
    """The axis that holds zero and all ``values``, with at most about ``steps`` intervals between
    round numbers. Its ends are round too, unless it is ``tight``."""
    import numpy as np

    low, high = min(float(np.min(values)), 0.0), max(float(np.max(values)), 0.0)
    power = _power(max(abs(low), abs(high)))
    low, high = scaled(low, -power), scaled(high, -power)
    if -low < STICKS_OUT * high:
        low = 0.0
    elif high < STICKS_OUT * -low:
        high = 0.0
    if low == high:
        high = 1.0
    step, exponent = _step((high - low) / steps)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    if tight:
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    ticks = [n * step for n in range(first, last + 1)]
    labels = [format(Decimal(n) * _exact(step, exponent), "f") for n in range(first, last + 1)]
    if not tight:
        low, high = ticks[0], ticks[-1]
    return Axis(low, high, ticks, [label.replace("-", "−") for label in labels], power)


def scaled(value: float, power: int) -> float:
    """``value`` times ten to the ``power``, in steps that neither overflow nor vanish."""
    while power:
        part = max(-150, min(150, power))
        value *= 10.0**part
        power -= part
    return value


def scaled_all(values: Floats, power: int) -> Floats:
    """The same for many at once."""
    while power:
        part = max(-150, min(150, power))
        values = values * 10.0**part
        power -= part
    return values


def _power(largest: float) -> int:
    """The power of ten to take out of numbers up to ``largest``: a multiple of three."""
    if largest == 0:
        return 0
    power = math.floor(math.log10(largest))
    return 0 if PLAIN[0] <= power <= PLAIN[1] else power - power % 3


def _step(least: float) -> tuple[float, int]:
    """The smallest round number that is not smaller, and its power of ten."""
    exponent = math.floor(math.log10(least))
    size = least / 10.0**exponent
    factor = next((one for one in ROUND if one >= size - 1e-9), ROUND[-1])
    if factor == ROUND[-1]:
        factor, exponent = 1, exponent + 1
    return factor * 10.0**exponent, exponent


def _exact(step: float, exponent: int) -> Decimal:
    return Decimal(round(step / 10.0**exponent)).scaleb(exponent)


def _raised(power: int) -> str:
    return str(power).translate(str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"))


def around(values: Sequence[float], steps: int, *, tight: bool = False) -> Axis:
    """The axis that holds all ``values``, wherever they are, with at most about ``steps`` intervals
    between round numbers. Its ends are round too, unless it is ``tight``; no value but zero lies
    on one. Numbers are written out, so its power is 0."""
    low, high = min(values, default=0.0), max(values, default=1.0)
    if high - low <= max(1e-9 * abs(low), 1e-9 * abs(high), FINEST):
        room = max(abs(high) * 0.001, 1.0 if high == 0 else 10 * FINEST)
        low, high = low - room, high + room
    room = (high - low) * EDGE
    low, high = low - (room if low else 0.0), high + (room if high else 0.0)
    step, exponent = _step((high - low) / steps)
    first, last = math.floor(low / step + 1e-6), math.ceil(high / step - 1e-6)
    if tight:
        first, last = math.ceil(low / step), math.floor(high / step)
    ticks = [n * step for n in range(first, last + 1)]
    labels = [format(Decimal(n) * _exact(step, exponent), "f") for n in range(first, last + 1)]
    if not tight:
        low, high = ticks[0], ticks[-1]
    return Axis(low, high, ticks, [one.replace("-", "−") for one in labels], 0)
