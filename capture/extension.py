"""A torque tool with an offset extension (crowfoot) on its drive, at any angle.

The tool is pulled at its grip, L from its drive; the fastener is E beyond the drive, along a line
turned by ``angle`` from the tool's own: 0° straight on (the fastener gets more than the tool
shows), 90° square to it (the same), 180° turned back toward the grip (less). So

    torque at the fastener = torque the tool shows × (L + E·cos angle) / L

(US Army TM 9-254; the cosine form: a hand-tool manual after AC 43.13-1B.) The pull must be square
to the tool, at the middle of its grip.
"""

from __future__ import annotations

from decimal import Context, Decimal
from fractions import Fraction
from typing import Final, NamedTuple

from capture.quantity import Number, exact
from capture.shapes import PI

_EXACT: Final = {
    0: Fraction(1),
    60: Fraction(1, 2),
    90: Fraction(0),
    120: Fraction(-1, 2),
    180: Fraction(-1),
}
"""The only whole degrees, to 180, whose cosine is a ratio."""


class Extension(NamedTuple):
    """An extension as it sits on its tool; both lengths in ``unit``."""

    tool_length: Decimal
    """L: from the middle of the grip to the drive."""
    length: Decimal
    """E: from the drive to the fastener."""
    angle: Decimal
    """In degrees, either way round; 0 is straight on."""
    unit: str


def factor(extension: Extension) -> Fraction:
    """Torque at the fastener over the torque the tool shows.

    Exact where the cosine is a ratio (0°, 60°, 90°, 120°, 180°), else within 10⁻²⁰; the same on
    every machine. Raises ValueError where a length cannot be, or the extension turned back reaches
    the grip, so that no pull would turn the fastener.
    """
    if not all(value.is_finite() for value in extension[:3]):
        raise ValueError("an extension's lengths and angle are plain numbers")
    if extension.tool_length <= 0:
        raise ValueError("the tool's length, from the middle of its grip to its drive, is above 0")
    if extension.length < 0:
        raise ValueError("the extension's length is not negative: turn its angle to 180 instead")
    reach = Fraction(extension.length) / Fraction(extension.tool_length)
    found = 1 + reach * cosine(extension.angle)
    if found <= 0:
        raise ValueError(
            "turned back that far the fastener is level with the grip or behind it, and a pull "
            "does not tighten it: use a shorter extension, or another angle"
        )
    return found


def torque_at_fastener(shown: Number, extension: Extension) -> Number:
    """What the fastener gets when the tool shows (or clicks at) ``shown``; same unit."""
    return exact(Fraction(shown) * factor(extension))


def setting_for(wanted: Number, extension: Extension) -> Number:
    """What the tool must be set to (or show) for ``wanted`` at the fastener; same unit."""
    return exact(Fraction(wanted) / factor(extension))


def cosine(degrees: Decimal) -> Fraction:
    """cos of an angle in degrees, exact where it is a ratio, else within 10⁻²⁰.

    By its series in ratios rather than a float's library function, whose last digit differs from
    one platform to another: a stored torque must be computed alike everywhere.
    """
    turned = abs(Fraction(degrees)) % 360
    folded = min(turned, 360 - turned)
    if folded in _EXACT:
        return _EXACT[int(folded)]
    # cos a = −cos(180° − a) brings the angle under 90°, where the series ends soon.
    sign, acute = (1, folded) if folded < 90 else (-1, 180 - folded)
    return (sign * _series(acute * PI / 180)).limit_denominator(10**20)


def _series(radians: Fraction) -> Fraction:
    """cos of up to π/2 by its power series, in 50 digits."""
    context = Context(prec=50)
    square = context.divide(Decimal((radians**2).numerator), Decimal((radians**2).denominator))
    total = term = Decimal(1)
    for even in range(2, 60, 2):
        term = context.divide(context.multiply(term, -square), Decimal(even * (even - 1)))
        total = context.add(total, term)
    return Fraction(total)
