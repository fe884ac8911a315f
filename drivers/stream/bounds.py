"""When a pull begins and ends in a stream, as a profile's ``[stream]`` says."""

from __future__ import annotations

from dataclasses import dataclass

MOST_SAMPLES = 1_000_000
"""Samples of the longest pull a profile may ask for."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """Torques in the unit that is sent, as distances from the resting level."""

    interval_us: int
    rise: float
    """A pull begins with the first sample so far from rest, to either side."""
    rest: float
    """How near to the resting level counts as rest."""
    rest_samples: int
    """A pull ends with so many samples at rest in a row; they belong to it."""
    before_samples: int
    """Kept from before the rise, so that the resting zero is in the trace."""
    longest_samples: int
    """A pull is cut after so many from its rise on."""

    def seconds(self, samples: int) -> float:
        """How long so many samples take."""
        return samples * self.interval_us / 1_000_000
