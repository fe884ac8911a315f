"""Gauges: what they show of a true size.

A gauge adds its own errors to the truth: a constant bias, a zero that was set a little off and
drifts, repeatability, and the difference in expansion when part and gauge are not at 20 °C. Then
it shows whole steps of its resolution, in its own unit. A comparative gauge shows the deviation
from the standard it was set on, and nothing sensible before it was set.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from decimal import ROUND_HALF_EVEN, Decimal

from simulators.workshop import STEEL

REFERENCE_TEMPERATURE = 20.0
"""°C at which sizes are stated (ISO 1)."""

UNITS = {
    "mm": ("length", 1.0),
    "µm": ("length", 0.001),
    "cm": ("length", 10.0),
    "in": ("length", 25.4),  # exact since 1959
    "N·m": ("torque", 1.0),
    "lbf·ft": ("torque", 1.3558179483314004),  # 0.45359237 × 9.80665 × 0.3048, all exact
    "lbf·in": ("torque", 0.1129848290276167),
    "°": ("angle", 1.0),
    "°C": ("temperature", 1.0),
    "cm³": ("volume", 1.0),
    "mL": ("volume", 1.0),
}
"""Unit → what it measures, and how many of the workshop's own unit (mm, N·m, °, °C, cm³) it is."""


class UnknownUnit(LookupError):
    """A unit the simulated gauges cannot show."""


def in_unit(value: float, unit: str) -> float:
    """``value`` (mm, N·m, °, °C or cm³) in ``unit``."""
    return value / scale(unit)


def scale(unit: str) -> float:
    """How many of the workshop's own unit one ``unit`` is."""
    return _unit(unit)[1]


def measures(unit: str) -> str:
    """What ``unit`` measures: ``length``, ``torque``…"""
    return _unit(unit)[0]


def _unit(unit: str) -> tuple[str, float]:
    try:
        return UNITS[unit]
    except KeyError:
        known = ", ".join(UNITS)
        raise UnknownUnit(f"A simulated gauge cannot show '{unit}', only {known}.") from None


def to_steps(value: float, resolution: Decimal) -> Decimal:
    """``value`` as the nearest whole number of steps, with the digits of ``resolution``."""
    steps = (Decimal(value) / resolution).to_integral_value(ROUND_HALF_EVEN)
    return (steps * resolution).quantize(resolution)


@dataclass(slots=True)
class Surroundings:
    """Temperatures at the bench, °C."""

    part: float = REFERENCE_TEMPERATURE
    gauge: float = REFERENCE_TEMPERATURE


@dataclass(slots=True)
class Gauge:
    """One instrument. Errors are in the workshop's own unit; ``unit`` and ``resolution`` are of the
    display."""

    id: str
    kind: str
    unit: str
    resolution: Decimal
    bias: float = 0.0
    repeatability: float = 0.0
    """Standard deviation of repeated readings of the same size."""
    zero_error: float = 0.0
    zero_drift: float = 0.0
    """What the zero moves with every reading, until it is set again."""
    expansion: float = STEEL
    comparative: bool = False
    lot: str = ""
    _uses: int = 0
    _knocked: float = 0.0
    _standard: float | None = None
    _random: random.Random = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self._random = random.Random(f"{self.lot}/{self.id}")

    def set_zero(self, standard: float | None = None) -> None:
        """Sets the zero again; a comparative gauge on a standard of this many mm."""
        self._uses = 0
        self._knocked = 0.0
        self._standard = standard

    def knock(self, change: float) -> None:
        """Moves its zero by ``change``, as a fall does, until it is set again."""
        self._knocked += change

    def indicate(
        self,
        size: float,
        *,
        part_expansion: float = STEEL,
        surroundings: Surroundings | None = None,
        unit: str | None = None,
        resolution: Decimal | None = None,
    ) -> Decimal:
        """What the display shows of a true ``size`` (mm at 20 °C, °C, cm³…).

        ``unit`` and ``resolution`` stand in for its own where someone pressed its unit key.
        """
        around = surroundings or Surroundings()
        seen = size
        if measures(self.unit) == "length":
            seen *= (
                1
                + part_expansion * (around.part - REFERENCE_TEMPERATURE)
                - self.expansion * (around.gauge - REFERENCE_TEMPERATURE)
            )
        seen += self.bias + self.zero_error + self.zero_drift * self._uses + self._knocked
        seen += self._random.gauss(0.0, self.repeatability) if self.repeatability else 0.0
        self._uses += 1
        if self.comparative:
            # Never set: its zero lies wherever it was left, on some other engine's size.
            seen -= size * 0.9995 if self._standard is None else self._standard
        return to_steps(in_unit(seen, unit or self.unit), resolution or self.resolution)
