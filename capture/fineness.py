"""Digits finer than a gauge can show: made up, or in another unit than said.

A gauge switched from millimetres to inches shows 0.0004 where it showed 0.010: more decimals than
it has. Noughts added at the end change nothing.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from capture.instrument import Instrument
from capture.quantity import dimension, unit_step

ROUNDING = 10
"""In another unit than the gauge's own, how many times finer than its step digits may be: what was
converted has been rounded to a decimal of that unit."""


def finer_than_shown(digits: str, unit: str, instrument: Instrument) -> bool:
    """Whether the digits have a decimal (other than nought) finer than the instrument's resolution
    is written with.

    Raises UnitError where the unit does not suit the instrument.
    """
    value = Decimal(digits)
    if not value:
        return False
    if unit == instrument.unit:
        return _last(value) < _last(instrument.resolution)
    if dimension(unit) != dimension(instrument.unit):
        return False  # an angle by a torque tool, whose step is of torque
    step = Fraction(instrument.resolution) * unit_step(instrument.unit, unit)
    return _last(value) * ROUNDING < step


def _last(value: Decimal) -> Fraction:
    """The place of the last digit that is not nought: 1/100 for 2.30 and 0.05."""
    exponent = value.normalize().as_tuple().exponent
    assert isinstance(exponent, int)
    return Fraction(10) ** exponent
