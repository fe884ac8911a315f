"""The resting level of a torque sensor: it starts near zero and follows a slow drift.

What is under the rise counts as rest. The level is the mean of the first such samples, so that an
adapter that was not quite tared is at rest at once. Later it follows what is near to it by a mean
over ten seconds, and what is farther away with a time constant of ten seconds: a pull, which
passes the rise in a fraction of that, does not take it along.
"""

from __future__ import annotations

_SECONDS = 10
STEADY_SECONDS = 10
"""A load that stays alike so long after a pull was cut is no pull: it is the new level."""


class RestLevel:
    """Where the sensor stands when nobody pulls."""

    def __init__(self, interval_us: int, near: float, first: int) -> None:
        """``near``: torque from the level that counts as near. ``first``: samples it is begun
        with."""
        self._slowest = max(first, _SECONDS * 1_000_000 // interval_us)
        self._steady = max(2, STEADY_SECONDS * 1_000_000 // interval_us)
        self._near = near
        self._first = first
        self._seen = 0
        self._low = self._high = 0.0
        self._alike = 0
        self.level = 0.0

    def follow(self, torque: float) -> None:
        """A sample of rest."""
        away = torque - self.level
        if self._seen < self._slowest:
            self._seen += 1
        near = self._seen <= self._first or -self._near <= away <= self._near
        self.level += away / (self._seen if near else self._slowest)

    def settles(self, torque: float) -> bool:
        """A sample after a pull that was cut: True once the torque has stayed alike for so long
        that it must be the level, which it then is."""
        if self._alike and max(self._high, torque) - min(self._low, torque) <= self._near:
            self._low, self._high = min(self._low, torque), max(self._high, torque)
            self._alike += 1
        else:
            self._low = self._high = torque
            self._alike = 1
        if self._alike < self._steady:
            return False
        self.level, self._alike = (self._low + self._high) / 2, 0
        return True
