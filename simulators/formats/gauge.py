"""Invented gauges: what each measures, its step and range, and what its display shows."""

from __future__ import annotations

import random
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Final

INCH: Final = Fraction("25.4")
OUNCE: Final = Fraction("28.349523125")
FOOT_POUND: Final = Fraction("0.45359237") * Fraction("9.80665") * Fraction("0.3048")


@dataclass(frozen=True, slots=True)
class Scale:
    """One unit a gauge can show."""

    unit: str
    step: Decimal
    size: Fraction = Fraction(1)
    """One of this unit in the gauge's first unit."""

    @property
    def places(self) -> int:
        """Digits behind the point of the display."""
        exponent = self.step.as_tuple().exponent
        return max(0, -int(exponent))


@dataclass(frozen=True, slots=True)
class Gauge:
    """What a person holds."""

    kind: str
    first: Scale
    second: Scale | None
    """Shown after the unit switch; None without one."""
    high: int | Decimal
    """The largest size, in the first unit; the smallest is half of it below zero."""
    blocks: tuple[str, ...]
    """Sizes the person has: blocks, weights, angles; decimal text in the first unit."""

    @property
    def scales(self) -> tuple[Scale, ...]:
        """The units it can show."""
        return (self.first,) if self.second is None else (self.first, self.second)

    def whole_digits(self) -> int:
        """Digits before the point that hold its whole range in every unit."""
        high = Fraction(self.high)
        return max(len(str(int(high / scale.size))) for scale in self.scales)

    def show(self, size: Fraction, switched: bool) -> Shown:
        """The display at ``size`` (in the first unit)."""
        scale = self.second if switched and self.second is not None else self.first
        return Shown(rounded(size / scale.size, scale.step), scale, size)

    def __str__(self) -> str:
        units = " or ".join(f"{scale.step} {scale.unit}" for scale in self.scales)
        low = -Fraction(self.high) / 2
        return f"{self.kind}, step {units}, {float(low):g} to {self.high} {self.first.unit}"


@dataclass(frozen=True, slots=True)
class Shown:
    """One moment of a gauge: its display, and the size behind it."""

    value: Decimal
    scale: Scale
    size: Fraction
    """In the gauge's first unit, before the display rounds it."""

    @property
    def text(self) -> str:
        """The display's digits; never a negative zero."""
        return format(self.value, "f") if self.value else format(abs(self.value), "f")

    @property
    def steps(self) -> int:
        """The display's number without its point."""
        return int(self.value.scaleb(self.scale.places))


def rounded(size: Fraction, step: Decimal) -> Decimal:
    """``size`` at the nearest multiple of ``step``, with the step's digits."""
    ratio = size / Fraction(step)
    count = (Decimal(ratio.numerator) / Decimal(ratio.denominator)).to_integral_value(ROUND_HALF_UP)
    return count * step


_SHOP = ("2.5", "5.1", "7.7", "10.3", "12.9", "15", "17.6", "20.2", "22.8", "25")
_MID = ("5", "10", "12.5", "20", "25", "30", "40", "50")
_LONG = ("10", "20", "25", "30", "50", "60", "75", "100")
_TALL = ("20", "50", "75", "100", "125", "150", "175", "200")
_INCHES = ("0.1", "0.25", "0.3", "0.5", "0.75", "1", "2", "3", "4")


def _metric(kind: str, fine: str, inch: str, high: int, blocks: tuple[str, ...]) -> Gauge:
    mm, inches = Scale("mm", Decimal(fine)), Scale("in", Decimal(inch), INCH)
    return Gauge(kind, mm, inches, high, blocks)


GAUGES: Final = (
    _metric("caliper", "0.01", "0.0005", 150, _LONG),
    _metric("long caliper", "0.01", "0.0005", 200, _LONG),
    _metric("micrometer", "0.001", "0.00005", 25, _SHOP),
    _metric("indicator", "0.001", "0.00005", 12, ("1", "2.5", "4", "5.1", "7.7", "10.3")),
    _metric("coarse indicator", "0.01", "0.0005", 50, _MID),
    _metric("height gauge", "0.01", "0.0005", 300, _TALL),
    _metric("depth gauge", "0.005", "0.0002", 50, _MID),
    Gauge("inch caliper", Scale("in", Decimal("0.0005")), None, 6, _INCHES),
    Gauge("metric bore gauge", Scale("mm", Decimal("0.001")), None, 60, _MID),
    Gauge("protractor", Scale("°", Decimal("0.05")), None, 180, ("15", "30", "45", "60", "90")),
    Gauge(
        "balance",
        Scale("g", Decimal("0.1")),
        Scale("oz", Decimal("0.005"), OUNCE),
        1500,
        ("50", "100", "200", "500", "700", "1000"),
    ),
    Gauge(
        "torque adapter",
        Scale("N·m", Decimal("0.1")),
        Scale("lbf·ft", Decimal("0.1"), FOOT_POUND),
        200,
        ("20", "35", "50", "80", "100", "120"),
    ),
)
"""All invented. Torques are known from weights on an arm."""


def draw_gauge(drawn: random.Random) -> Gauge:
    """One of them; those for lengths with a unit switch three times as often as the others."""
    weights = [3 if gauge.first.unit == "mm" and gauge.second else 1 for gauge in GAUGES]
    return drawn.choices(GAUGES, weights)[0]


def draw_switched(drawn: random.Random) -> Gauge:
    """One of those with a unit switch."""
    return drawn.choice([gauge for gauge in GAUGES if gauge.second is not None])
