"""What a count is worth, and the digits a size is shown with.

::

    count 25400, three places               25.400
    count 3, scale 0.0005                   0.0015
    count 20224, scale 25.4/20480, resolution 0.01        25.0825 → 25.08

Everything is exact until the one rounding to the stated resolution, half away from zero.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from drivers.decoding.digits import placed

FARTHEST = 30
"""Powers of ten a number may be away from one, either way."""
MOST_PLACES = 18


@dataclass(frozen=True, slots=True)
class Worth:
    """What one count is worth, in one unit."""

    places: int | None = None
    """Digits behind a point that is not sent; None as sent, or none."""
    factor: Fraction | None = None
    """Worth of one count, where it is no power of ten; endless only with a resolution."""
    factor_places: int = 0
    """Digits behind the point that the factor brings."""
    resolution: Decimal | None = None
    """Step that sizes are rounded to; None keeps every digit."""

    def text(self, negative: bool, digits: str, sent: int | None = None) -> str:
        """The size of ``digits`` (no point, no sign) with ``sent`` of them behind the point."""
        places = (self.places or 0) if sent is None else sent
        if self.factor is None and self.resolution is None:
            return placed(negative, digits, places)
        factor = Fraction(1) if self.factor is None else self.factor
        size = Fraction(int(digits)) * factor * Fraction(10) ** -places
        if self.resolution is not None:
            return self.rounded(-size if negative else size)
        shown = max(0, places + self.factor_places)
        return placed(negative, str(int(size * 10**shown)), shown)

    def rounded(self, size: Fraction) -> str:
        """The multiple of the resolution nearest to ``size``; two as near: the one farther from
        zero."""
        assert self.resolution is not None
        steps = int(abs(size) / Fraction(self.resolution) + Fraction(1, 2))
        exponent = int(self.resolution.as_tuple().exponent)
        step = int(self.resolution.scaleb(-exponent))
        return placed(size < 0 and steps > 0, str(steps * step), -exponent)


PLAIN = Worth()
"""Digits stay as sent."""


@dataclass(frozen=True, slots=True)
class Worths:
    """What one count is worth, by the unit of the message."""

    base: Worth = PLAIN
    by_unit: Mapping[str, Worth] = field(default_factory=dict)
    """Our name of the unit → what holds in its place."""

    def of(self, unit: str | None) -> Worth:
        return self.by_unit.get(unit, self.base) if unit else self.base

    @property
    def all(self) -> tuple[Worth, ...]:
        return (self.base, *self.by_unit.values())


AS_SENT = Worths()


def scaled(scale: Decimal) -> Worth:
    """The worth of a decimal scale; its digits behind the point are shown."""
    exponent = int(scale.as_tuple().exponent)
    return Worth(factor=Fraction(scale), factor_places=max(0, -exponent))


def decimal_places(factor: Fraction) -> int | None:
    """Digits behind the point that ``factor`` needs; None where they are endless."""
    rest, places = factor.denominator, 0
    while rest % 10 == 0:
        rest, places = rest // 10, places + 1
    for prime in (2, 5):
        while rest % prime == 0:
            rest, places = rest // prime, places + 1
    return places if rest == 1 else None
