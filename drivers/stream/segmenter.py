"""Cuts pulls out of a stream of samples: begun on a rise, ended on rest, no sample lost.

::

    torque  ____________/\\/\\______________     kept:  before │ rise … rest │
            │ before │ rise         │ rest │

Resting samples are not kept, but for the ones just before the rise. The distance from rest counts,
to either side: loosening and left-hand threads are pulls too. How the samples were handed in
changes nothing.
"""

from __future__ import annotations

from collections import deque
from typing import NamedTuple

from drivers.stream.bounds import Bounds
from drivers.stream.rest_level import RestLevel

JUST_BEGUN = (
    "the pull was under way before its resting zero could be seen: its beginning is missing"
)


class Segment(NamedTuple):
    """One pull."""

    torque: list[str]
    angle: list[str] | None
    gaps: list[tuple[int, int]]
    """(place, how many): so many samples are missing before the sample at this place."""
    incomplete: str | None
    """Why samples may be missing."""
    missing: int | None
    """How many; None where that is not known."""


class Segmenter:
    """The stream of one instrument on one connection."""

    def __init__(self, bounds: Bounds, *, has_angle: bool) -> None:
        self._bounds = bounds
        self.has_angle = has_angle
        self._level = RestLevel(bounds.interval_us, bounds.rest, bounds.before_samples)
        self._before: deque[tuple[str, str]] = deque(maxlen=bounds.before_samples)
        self._doubt: tuple[str, int | None] | None = (JUST_BEGUN, None)
        """What is wrong with a pull that rises before the rest ahead of it was seen."""
        self._calm = 0
        """Samples at rest in a row, within a pull or after one that was cut."""
        self._cut = False
        """The last pull was cut, and rest has not come since."""
        self._begin()
        self.pulling = False
        """Whether a pull is under way."""

    def _begin(self) -> None:
        self.torque: list[str] = []
        """Of the pull under way."""
        self.angle: list[str] = []
        self._gaps: list[tuple[int, int]] = []
        self._whys: list[str] = []
        self._missing: int | None = 0
        self._most = 0

    def sample(self, torque: str, angle: str = "") -> Segment | None:
        """The next sample; the pull that it ends, where it ends one."""
        value = float(torque)
        away = abs(value - self._level.level)
        if self.pulling:
            return self._pulled(torque, angle, away)
        if self._cut:
            self._after_cut(value, away)
        elif away >= self._bounds.rise:
            self._rise(torque, angle)
        else:
            self._level.follow(value)
            self._before.append((torque, angle))
            if self._doubt is not None and len(self._before) == self._bounds.before_samples:
                self._doubt = None
        return None

    def _rise(self, torque: str, angle: str) -> None:
        self._begin()
        self.torque = [kept for kept, _ in self._before]
        self.angle = [kept for _, kept in self._before]
        self._most = len(self._before) + self._bounds.longest_samples
        self.pulling, self._calm = True, 0
        if self._doubt is not None:
            self._whys, self._missing = [self._doubt[0]], self._doubt[1]
            self._doubt = None
        self.torque.append(torque)
        self.angle.append(angle)

    def _pulled(self, torque: str, angle: str, away: float) -> Segment | None:
        self.torque.append(torque)
        self.angle.append(angle)
        self._calm = self._calm + 1 if away <= self._bounds.rest else 0
        if self._calm >= self._bounds.rest_samples:
            return self._end()
        if len(self.torque) < self._most:
            return None
        self._cut = True
        seconds = self._bounds.seconds(self._bounds.longest_samples)
        self._whys.append(
            f"it did not come to rest within {seconds:g} s and was cut there: what followed until "
            "rest was not kept"
        )
        self._missing = None
        return self._end()

    def _after_cut(self, value: float, away: float) -> None:
        """Nothing is kept until the torque is at rest again, or so steady that it must be."""
        self._calm = self._calm + 1 if away <= self._bounds.rest else 0
        settled = self._level.settles(value)
        if settled or self._calm >= self._bounds.rest_samples:
            self._cut = False

    def _end(self) -> Segment:
        incomplete = "; ".join(dict.fromkeys(self._whys)) or None
        angle = self.angle if self.has_angle else None
        segment = Segment(self.torque, angle, self._gaps, incomplete, self._missing)
        rest = self._calm
        self._before.clear()
        if rest:  # the rest after one pull is the rest before the next
            self._before.extend(zip(self.torque[-rest:], self.angle[-rest:], strict=True))
        self._begin()
        self.pulling = False
        return segment

    def lost(self, missing: int | None, why: str) -> None:
        """Samples are missing here; how many, where that is known."""
        if not self.pulling:
            self._before.clear()
            self._doubt = (why, missing)
            return
        if missing:
            self._gaps.append((len(self.torque), missing))
        self._whys.append(why)
        if missing is None or self._missing is None:
            self._missing = None
        else:
            self._missing += missing

    def end(self, why: str) -> Segment | None:
        """The pull under way, which gets no further; afterwards as new."""
        segment = None
        if self.pulling:
            self._whys.append(why)
            self._missing = None
            segment = self._end()
        self._before.clear()
        self._doubt = (JUST_BEGUN, None)
        self._cut = False
        return segment
