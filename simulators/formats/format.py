"""One invented wire format: its gauge, its layout, and what is right."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Literal

from simulators.formats.gauge import Gauge, Shown
from simulators.formats.message import Layout
from simulators.formats.state import State

Exactness = Literal["digits", "half a step", "a step"]


@dataclass(frozen=True, slots=True)
class Press:
    """One press of the button: what the person knew, what came, what the display showed."""

    at: str
    """``10 mm``: the size in the person's hands."""
    raw: bytes
    value: str
    """The display's digits."""
    unit: str
    """The display's unit."""
    switched: bool = False

    def line(self) -> dict[str, str]:
        """As a line of a capture file says it; the display is not in it, only its unit."""
        said = {"at": self.at, "hex": self.raw.hex()}
        return {**said, "unit": self.unit} if self.switched else said


@dataclass(frozen=True, slots=True)
class Format:
    """A gauge and the way it writes."""

    name: str
    shape: str
    gauge: Gauge
    layout: Layout
    exactness: Exactness = "digits"
    """How near to the display a decoded value can be: floats and counts hold more than it shows."""
    tells_unit: bool = True
    """Whether the message follows the unit switch; one that does not stays in the first unit."""
    presses: tuple[Press, ...] = field(default=(), repr=False)
    further: tuple[Press, ...] = field(default=(), repr=False)

    @property
    def description(self) -> str:
        """All of it, for a person."""
        return f"{self.name}: {self.gauge}. {self.layout}"

    def message(self, shown: Shown, state: State) -> bytes:
        """The bytes of one press."""
        return self.layout.message(shown, state)

    def right(self, press: Press, value: str, unit: str | None) -> bool:
        """Whether a decoded ``value`` and ``unit`` is what the display showed at ``press``.

        In the display's unit, or, where the message stays in the first one, in that.
        """
        shown = next(scale for scale in self.gauge.scales if scale.unit == press.unit)
        said = [scale for scale in self.gauge.scales if scale.unit == unit]
        if not said or (said[0] is not shown and self.tells_unit):
            return False
        try:
            size = Fraction(Decimal(value))
        except (InvalidOperation, ValueError, OverflowError):
            return False
        off = abs(size * said[0].size - Fraction(press.value) * shown.size)
        return off <= self._allowed(shown.step * Decimal(1)) * shown.size or (
            not self.tells_unit and off <= Fraction(shown.step) * shown.size
        )

    def _allowed(self, step: Decimal) -> Fraction:
        if self.exactness == "digits":
            return Fraction(0)
        share = Fraction(1, 2) if self.exactness == "half a step" else Fraction(1)
        return Fraction(step) * (share + Fraction(1, 1000))


def seeded(word: str, *more: object) -> random.Random:
    """The same numbers for the same word."""
    return random.Random("/".join([word, *map(str, more)]))
