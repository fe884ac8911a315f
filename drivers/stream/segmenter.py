"""Cuts pulls out of a stream of samples: begun on a rise, ended on rest, no sample lost.

::

    torque  ____________/\\/\\______________     kept:  before │ rise … rest │
            │ before │ rise         │ rest │

Resting samples are not kept, but for the ones just before the torque left rest. What lies between
rest and rise (a slow hand, a screw that runs heavily) belongs to the pull that follows it, and
never moves the resting level: a level taken along would be taken off the torque. The distance from
rest counts, to either side: loosening and left-hand threads are pulls too. How the samples were
handed in changes nothing.
"""

from __future__ import annotations

from collections import deque
from typing import NamedTuple

from drivers.stream.bounds import Bounds
from drivers.stream.rest_level import RestLevel

JUST_BEGUN = (
    "the pull was under way before its resting zero could be seen: its beginning is missing"
)

_LOOK_BACK = 8
"""How many times as far as is kept from before a pull its beginning is looked for."""
OFF_REST = (
    "before the pull the torque stood off its rest for longer than a pull may last: tare the "
    "adapter when nothing is on it"
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
        self._before: deque[tuple[str, str]] = deque(maxlen=_LOOK_BACK * bounds.before_samples)
        self._foot: deque[tuple[str, str]] = deque(maxlen=bounds.longest_samples)
        """Since the torque left rest, while it has not risen."""
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
        elif away <= self._bounds.rest or self._level.beginning:
            self._resting(value, torque, angle)
        else:
            self._foot.append((torque, angle))
            if len(self._foot) == self._bounds.longest_samples:
                self._doubt = (OFF_REST, None)
                if self._level.settles(value):
                    self._before.clear()
                    self._foot.clear()
        return None

    def _resting(self, value: float, torque: str, angle: str) -> None:
        self._level.follow(value)
        self._before.extend(self._foot)
        self._foot.clear()
        self._before.append((torque, angle))
        if self._doubt is not None and len(self._before) >= self._bounds.before_samples:
            self._doubt = None

    def _rise(self, torque: str, angle: str) -> None:
        self._begin()
        ahead = [*self._rest_ahead(), *self._foot]
        self._foot.clear()
        self.torque = [kept for kept, _ in ahead]
        self.angle = [kept for _, kept in ahead]
        self._most = len(ahead) + self._bounds.longest_samples
        self.pulling, self._calm = True, 0
        if self._doubt is not None:
            self._whys, self._missing = [self._doubt[0]], self._doubt[1]
            self._doubt = None
        self.torque.append(torque)
        self.angle.append(angle)

    def _rest_ahead(self) -> list[tuple[str, str]]:
        """What is kept from before: rest as it was before the torque began to leave it, which a
        slow hand does long before it is off rest."""
        kept = list(self._before)
        level, near = self._level.level, self._bounds.rest / 4
        quiet = (
            at for at in range(len(kept), 0, -1) if abs(float(kept[at - 1][0]) - level) <= near
        )
        return kept[max(0, next(quiet, len(kept)) - self._bounds.before_samples) :]

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
            self._foot.clear()
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
        self._foot.clear()
        self._doubt = (JUST_BEGUN, None)
        self._cut = False
        return segment
