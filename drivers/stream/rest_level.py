"""The resting level of a torque sensor: it starts near zero and follows a slow drift.

The level is the mean of the first samples under the rise, so that an adapter that was not quite
tared is at rest at once. Later it follows, by a mean over ten seconds, only what is near to it: a
slow hand or a screw that runs heavily must not take it along.
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

    @property
    def beginning(self) -> bool:
        """Whether it is still being found: until then whatever has not risen counts as rest."""
        return self._seen < self._first

    def follow(self, torque: float) -> None:
        """A sample of rest."""
        if self._seen < self._slowest:
            self._seen += 1
        self.level += (torque - self.level) / self._seen

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
