"""Torque tools: an adapter between wrench and fastener that sends the peak of each pull, and a
wrench that clicks at what it is set to."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal

from simulators.gauges import in_unit, scale, to_steps

SAMPLES_PER_SECOND = 200


@dataclass(slots=True)
class Hand:
    """Whoever pulls. Each pull ends a little off the target."""

    spread: float = 0.006
    """Standard deviation of the end of a pull, as a part of the target; cut off at three."""
    seconds: float = 1.5
    lot: str = ""
    _random: random.Random = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self._random = random.Random(f"{self.lot}/hand")

    def pull(self, target: float) -> Iterator[float]:
        """Torque (N·m) at every sample of one pull to about ``target``, let go at the end."""
        end = target * (1 + max(-3.0, min(3.0, self._random.gauss(0, 1))) * self.spread)
        rise = max(2, round(self.seconds * SAMPLES_PER_SECOND))
        for sample in range(1, rise + 1):
            part = sample / rise
            # The head of a bolt turns more easily before it seats: slow at first, then steep.
            yield end * part * part
        for sample in range(rise // 10, 0, -1):
            yield end * sample / (rise // 10 + 1)


@dataclass(slots=True)
class TorqueAdapter:
    """An indicating torque instrument (ISO 6789-1, Type I) that holds and sends the peak."""

    id: str
    unit: str
    resolution: Decimal
    bias: float = 0.0
    """As a part of the reading."""
    repeatability: float = 0.0
    """Standard deviation, as a part of the reading."""
    lot: str = ""
    _random: random.Random = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self._random = random.Random(f"{self.lot}/{self.id}")

    def peak(self, samples: Iterator[float]) -> Decimal:
        """The largest torque of a pull, as the display shows it in its own unit."""
        noise = self._random.gauss(0.0, self.repeatability) if self.repeatability else 0.0
        seen = max(samples) * (1 + self.bias + noise)
        return to_steps(in_unit(seen, self.unit), self.resolution)


@dataclass(slots=True)
class ClickWrench:
    """A setting torque tool (ISO 6789-1, Type II): it clicks near what it is set to, no more."""

    id: str
    unit: str
    resolution: Decimal
    """The step of its settings."""
    bias: float = 0.0
    """As a part of the setting."""
    repeatability: float = 0.0
    """Standard deviation, as a part of the setting."""
    lot: str = ""
    _random: random.Random = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self._random = random.Random(f"{self.lot}/{self.id}")

    def clicks_at(self, setting: float) -> float:
        """The true torque (N·m) at which it clicks this time."""
        noise = self._random.gauss(0.0, self.repeatability) if self.repeatability else 0.0
        return setting * scale(self.unit) * (1 + self.bias + noise)
