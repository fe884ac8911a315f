"""Pulls as traces: torque sample by sample, as the service wants them posted."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from simulators.gauges import to_steps
from simulators.waveforms import Sensor, pull, tightening

RATE: Final = 500.0
"""Samples a second."""
NOISE: Final = 0.002
"""As a part of the peak."""


@dataclass(frozen=True, slots=True)
class Pull:
    """One pull. Torques are decimal text in ``unit``, one every ``interval_us``."""

    unit: str
    interval_us: int
    torque: tuple[str, ...]

    def to_body(self) -> dict[str, Any]:
        """The trace as the service wants it, without its instrument."""
        return {
            "unit": self.unit,
            "interval_us": self.interval_us,
            "torque": list(self.torque),
        }


def drawn(kind: str, target: float, unit: str, resolution: Decimal, word: str) -> Pull:
    """A pull of one of ``waveforms.KINDS`` to about ``target`` (in ``unit``), as a sensor with
    this resolution sends it. The same word gives the same pull."""
    sensor = Sensor(rate=RATE, noise=NOISE, step=float(resolution))
    wave = pull(tightening(kind, target), sensor, word)
    torque = tuple(format(to_steps(value, resolution), "f") for value in wave.torques)
    return Pull(unit, round(1_000_000 / RATE), torque)
