"""Torque against time as a sensor would send it: pulls on a fastener, and turning tests.

A wave is drawn as a line through corners, sampled at any rate, and given an offset and noise. All
of it is invented, nothing is measured. What was drawn comes back beside the samples as the truth.
The same word gives the same wave.
"""

from __future__ import annotations

import math
import random
from bisect import bisect_right
from dataclasses import dataclass, field, replace
from typing import Final, NamedTuple

KINDS: Final = (
    "click",
    "over-pull",
    "second-click",
    "no-click",
    "jerky",
    "slow",
    "slip",
    "let-off",
    "run-down",
)
"""The pulls that can be drawn by name."""


class Wave(NamedTuple):
    """Samples and what they were drawn from."""

    seconds: list[float]
    torques: list[float]
    angles: list[float] | None
    """Degrees; turning tests only."""
    truth: Truth


@dataclass(slots=True)
class Truth:
    """What was drawn, before rate, offset and noise. Torques above zero, times in seconds."""

    clicks: list[tuple[float, float]] = field(default_factory=list)
    """Time and torque of each."""
    peak: float = 0.0
    peak_after: float | None = None
    """The highest after the first click."""
    rise_seconds: float | None = None
    """From 80 % of the click (or the peak) to it."""
    slip_at: float | None = None
    let_off_at: float | None = None
    run_down: float | None = None
    breakaway: float | None = None
    running: float | None = None
    ripple: float | None = None
    """Largest less smallest running torque over a turn."""


@dataclass(frozen=True, slots=True)
class Sensor:
    """How the torque is seen."""

    rate: float = 1000.0
    """Samples a second."""
    offset: float = 0.0
    """In the torque's unit."""
    noise: float = 0.0
    """As a part of the wave's peak: every sample lies within ± this, evenly; see ``normal``."""
    normal: bool = False
    """Noise is normal, with ``noise`` as two standard deviations."""
    capacity: float | None = None
    """The sensor shows no more than this."""
    step: float = 0.0
    """Resolution of what is sent; 0 sends all digits."""
    start: float = 0.0
    """Time of the first sample."""
    phase: float = 0.0
    """Where in the first interval sampling starts, 0 to 1."""


@dataclass(frozen=True, slots=True)
class Tightening:
    """How one pull goes. Torques in any one unit, times in seconds."""

    target: float = 60.0
    """Where the tool breaks."""
    rest: float = 0.3
    rise: float = 1.5
    """From 80 % of the target to it; the rest of the way is pulled twice as fast."""
    drop: float = 0.25
    """How far the torque falls at the break, as a part of it."""
    drop_seconds: float = 0.006
    go_on_seconds: float = 0.2
    """How long the hand goes on after the break."""
    go_on: float = 0.9
    """Where it goes on to, as a part of the target."""
    let_go_seconds: float = 0.25
    clicks: int = 1
    slip_part: float = 0.0
    """Where the socket slips, as a part of the target; 0: nowhere."""
    slip_seconds: float = 0.015
    again_seconds: float = 0.4
    """How long it stands slack after a slip or a let-off."""
    run_down_torque: float = 0.0
    run_down_seconds: float = 0.0


def tightening(kind: str, target: float = 60.0) -> Tightening:
    """The named pull (one of ``KINDS``) to about ``target``."""
    plain = Tightening(target)
    changes: dict[str, dict[str, float | int]] = {
        "click": {},
        "over-pull": {"go_on": 1.15, "go_on_seconds": 0.4},
        "second-click": {"clicks": 2},
        "no-click": {"clicks": 0},
        "jerky": {"rise": 0.15},
        "slow": {"rise": 6.0},
        "slip": {"slip_part": 0.6},
        "let-off": {"slip_part": 0.6, "slip_seconds": 0.25},
        "run-down": {"run_down_torque": 0.12 * target, "run_down_seconds": 1.5},
    }
    if kind not in changes:
        raise ValueError(f"There is no pull {kind!r}; there are {', '.join(KINDS)}.")
    return replace(plain, **changes[kind])  # type: ignore[arg-type]  # each key is a field


def pull(how: Tightening, sensor: Sensor, word: str) -> Wave:
    """One pull as the sensor sends it."""
    line = _Line()
    truth = Truth()
    target = how.target
    line.stay(how.rest)
    fast = how.rise / (0.2 * target) / 2  # seconds for one of the unit, before 80 %
    if how.run_down_torque:
        line.to(how.run_down_torque, 0.1)
        line.stay(how.run_down_seconds, wobble=0.02 * target)
        truth.run_down = how.run_down_torque
    if how.slip_part:
        slip = how.slip_part * target
        line.to(slip, fast * slip)
        if how.slip_seconds < 0.06:
            truth.slip_at = line.now
        else:
            truth.let_off_at = line.now
        line.to(0.0, how.slip_seconds)
        line.stay(how.again_seconds)
    line.to(0.8 * target, fast * (0.8 * target - line.torque))
    from_ = line.now
    line.to(target, how.rise)
    truth.rise_seconds = line.now - from_
    highest_after = None
    for number in range(how.clicks):
        if number:
            line.to(target, 0.3)
        truth.clicks.append((line.now, target))
        line.to(target * (1 - how.drop), how.drop_seconds)
        if number:
            highest_after = target
    if how.clicks:
        line.to(how.go_on * target, how.go_on_seconds)
        truth.peak_after = max(how.go_on * target, highest_after or 0.0)
    line.to(0.0, how.let_go_seconds)
    line.stay(0.2)
    truth.peak = line.highest
    return _seen(line, sensor, word, truth, None)


@dataclass(frozen=True, slots=True)
class Rolling:
    """How an assembly turns. Torques in any one unit, times in seconds."""

    breakaway: float = 30.0
    running: float = 22.0
    ripple: float = 3.0
    """Largest less smallest torque over a turn: a wave once a turn."""
    turns: float = 3.0
    seconds_per_turn: float = 2.0
    rest: float = 0.4
    angle: bool = False
    """The sensor sends the angle too."""


def turning(how: Rolling, sensor: Sensor, word: str) -> Wave:
    """One turning test as the sensor sends it."""
    line = _Line()
    line.stay(how.rest)
    line.to(how.breakaway, 0.5)
    moves = line.now
    steps = max(8, round(90 * how.turns))
    angles = [(0.0, 0.0), (moves, 0.0)]
    for step in range(1, steps + 1):
        turned = how.turns * step / steps
        wave = how.ripple / 2 * math.sin(2 * math.pi * turned)
        line.to(how.running + wave, how.turns * how.seconds_per_turn / steps)
        angles.append((line.now, 360 * turned))
    line.to(0.0, 0.05)
    line.stay(0.3)
    angles.append((line.now, 360 * how.turns))
    truth = Truth(
        peak=line.highest, breakaway=how.breakaway, running=how.running, ripple=how.ripple
    )
    return _seen(line, sensor, word, truth, angles if how.angle else None)


class _Line:
    """A line through corners, drawn from zero torque at zero time."""

    def __init__(self) -> None:
        self.corners: list[tuple[float, float]] = [(0.0, 0.0)]

    @property
    def now(self) -> float:
        return self.corners[-1][0]

    @property
    def torque(self) -> float:
        return self.corners[-1][1]

    @property
    def highest(self) -> float:
        return max(torque for _, torque in self.corners)

    def to(self, torque: float, seconds: float) -> None:
        self.corners.append((self.now + seconds, torque))

    def stay(self, seconds: float, wobble: float = 0.0) -> None:
        """Stays, give or take ``wobble`` ten times a second."""
        level, steps = self.torque, max(1, round(20 * seconds)) if wobble else 1
        for step in range(1, steps + 1):
            up = wobble * (-1) ** step if step < steps else 0.0
            self.to(level + up, seconds / steps)

    def at(self, seconds: float) -> float:
        return _between(self.corners, seconds)


def _between(corners: list[tuple[float, float]], at: float) -> float:
    after = bisect_right(corners, at, key=lambda corner: corner[0])
    if after == len(corners):
        return corners[-1][1]
    (begins, low), (ends, high) = corners[after - 1], corners[after]
    return low + (high - low) * (at - begins) / (ends - begins)


def _seen(
    line: _Line,
    sensor: Sensor,
    word: str,
    truth: Truth,
    angles: list[tuple[float, float]] | None,
) -> Wave:
    chance = random.Random(f"{word}/wave")
    size = sensor.noise * line.highest
    times, torques = [], []
    for number in range(int(line.now * sensor.rate - sensor.phase) + 1):
        at = (number + sensor.phase) / sensor.rate
        error = chance.gauss(0, size / 2) if sensor.normal else chance.uniform(-size, size)
        torque = line.at(at) + sensor.offset + error
        if sensor.capacity is not None:
            torque = min(torque, sensor.capacity)
        if sensor.step:
            torque = round(torque / sensor.step) * sensor.step
        times.append(sensor.start + at)
        torques.append(torque)
    turned = None
    if angles is not None:
        turned = [_between(angles, at - sensor.start) for at in times]
    return Wave(times, torques, turned, truth)
