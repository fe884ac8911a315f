"""A turning test: the torque that sets an assembly moving, and the torque that keeps it turning.

Breakaway torque is the largest torque before the assembly moves freely; running torque is looked
at over the steady part after it, and its ripple over one turn of the crank, where an angle was
sent or the number of turns (or the time of one) is told. Without either the ripple is over the
steady part in time.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from capture.trace import signal
from capture.trace.finding import Code, Finding, said
from capture.trace.rest import resting_zero
from capture.trace.samples import Arrays, Trace, arrays

if TYPE_CHECKING:
    from capture.trace.samples import Floats

CALM_SECONDS: Final = 0.1
LOADED: Final = 0.5
"""Part of the median torque that tells turning from standing."""
MOVED_DEGREES: Final = 10.0
"""The assembly has broken away once it has turned this far."""
STEADY_DEGREES: Final = 45.0
"""From here on it is taken to turn steadily, where there is an angle."""
TURN: Final = 360


class Extreme(NamedTuple):
    """A largest or smallest running torque and where."""

    torque: float
    at: float
    """Seconds as sent."""
    angle: float | None
    """Degrees turned since the steady part began, where known."""


class Ripple(NamedTuple):
    """How the running torque varies over a turn (the mean over the turns seen)."""

    torque: float
    """Largest less smallest."""
    most_at: float
    """Where in the turn the largest stands: degrees, 0 to 359, from the start of the steady part;
    seconds as sent where no angle is known."""
    least_at: float
    turns: int | None
    """Whole turns it was taken over; None where no angle is known."""


class Turning(NamedTuple):
    """What a turning test shows. Torques in ``unit``, resting zero taken off, positive."""

    unit: str
    zero: float
    noise: float
    """Standard deviation of one sample."""
    breakaway: float | None
    """None where the torque never stood above the running torque at the start."""
    breakaway_at: float | None
    """Seconds as sent."""
    running_mean: float | None
    """Over the steady part: over angle where known (whole turns where there is one), else time."""
    running_median: float | None
    least: Extreme | None
    most: Extreme | None
    ripple: Ripple | None
    steady: tuple[float, float] | None
    """The steady part, in seconds as sent."""
    turns: float | None
    """How far it turned in the steady part, where known."""
    findings: tuple[Finding, ...]

    def has(self, code: Code) -> bool:
        """Whether ``code`` is among the findings."""
        return any(finding.code is code for finding in self.findings)


def analyse_turning(
    trace: Trace, *, turns: float | None = None, seconds_per_turn: float | None = None
) -> Turning:
    """What the trace of a turning test shows.

    Without an angle in the trace, ``turns`` says how many turns the steady part made, or
    ``seconds_per_turn`` how long one took, at even speed; give at most one of them. Raises
    ValueError where the samples cannot be read (see ``samples.arrays``), an argument is not
    positive, or more than one source of the angle is given.
    """
    given = {"turns": turns, "seconds_per_turn": seconds_per_turn}
    for name, value in given.items():
        if value is not None and not value > 0:
            raise ValueError(f"{name} of a turning test must be more than 0, not {value!r}.")
    sources = [name for name, value in given.items() if value is not None]
    if trace.angle is not None:
        sources.append("angle")
    if len(sources) > 1:
        raise ValueError(f"A turning test needs one of {' and '.join(sources)}, not both.")
    data = arrays(trace)
    noise = signal.noise(data.torque)
    rest = resting_zero(data.torque, data.interval, noise)
    torque = data.torque - (rest.level if rest else 0.0)
    sign = -1.0 if -float(torque.min()) > float(torque.max()) else 1.0
    findings = []
    if sign < 0:
        findings.append(
            Finding(Code.REVERSED, "The torque is negative: it was turned the other way.")
        )
    if rest is None:
        findings.append(
            Finding(
                Code.NO_REST,
                f"The trace begins under load, at {said(float(data.torque[0]), trace.unit)}: "
                "the resting zero could not be seen and none was taken off.",
            )
        )
    test = _Test(trace.unit, data, sign * torque, noise, rest.level if rest else 0.0, findings)
    return test.read(turns, seconds_per_turn)


class _Test(NamedTuple):
    """A turning test being read."""

    unit: str
    data: Arrays
    torque: Floats
    noise: float
    zero: float
    findings: list[Finding]

    def read(self, turns: float | None, seconds_per_turn: float | None) -> Turning:
        import numpy as np

        half = int(CALM_SECONDS / 2 / self.data.interval)
        calm = signal.mean_around(self.torque, half)
        peak = float(calm.max())
        loaded = np.flatnonzero(calm > peak / 4)
        if peak <= 8 * self.noise / (2 * half + 1) ** 0.5 or len(loaded) < 3:
            return self._nothing()
        level = float(np.median(self.torque[loaded]))
        on = np.flatnonzero(calm >= LOADED * level)
        if not len(on):  # single samples far above all others: no turning looks so
            return self._nothing()
        first, last = int(on[0]), int(on[-1])
        settled = self._settled(calm, first, last, level)
        if settled is None:
            return self._nothing()
        # The hand comes off over some hundredths of a second, which are not running; nor may the
        # means around a running sample reach into them.
        ends = max(settled + 1, last - 2 * half - 1)
        angle = self._angle(settled, ends, turns, seconds_per_turn)
        moving = self._moving(first, settled)
        top = first + int(self.torque[first : moving + 1].argmax())
        breakaway = self._at(top)
        steady = self.torque[settled : ends + 1]
        most_running = float(calm[settled : ends + 1].max())
        broke = breakaway > most_running + 3 * self.noise
        if not broke:
            self.findings.append(
                Finding(
                    Code.NO_BREAKAWAY,
                    "No breakaway: the torque at the start never stood above the running torque, "
                    f"which reached {said(most_running, self.unit)}.",
                )
            )
        turned = None if angle is None else float(angle[-1]) / TURN
        ripple, mean = self._over_a_turn(angle, settled, ends)
        smooth = calm[settled : ends + 1]
        return Turning(
            self.unit,
            self.zero,
            self.noise,
            breakaway if broke else None,
            self._when(top) if broke else None,
            mean,
            float(np.median(steady)),
            self._extreme(smooth, int(smooth.argmin()), settled, angle),
            self._extreme(smooth, int(smooth.argmax()), settled, angle),
            ripple,
            (self._when(settled), self._when(ends)),
            turned,
            tuple(self.findings),
        )

    def _nothing(self) -> Turning:
        self.findings.append(
            Finding(Code.NO_TURNING, "Nothing was turned: the torque never rose clear of noise.")
        )
        none = None
        return Turning(
            self.unit,
            self.zero,
            self.noise,
            none,
            none,
            none,
            none,
            none,
            none,
            none,
            none,
            none,
            tuple(self.findings),
        )

    def _when(self, sample: int) -> float:
        return self.data.start + float(self.data.seconds[sample])

    def _at(self, sample: int) -> float:
        """The torque at a peak: a mean over the 4 ms up to it where there is noise."""
        if self.noise <= float(self.torque.max()) / 1000:
            return float(self.torque[sample])
        half = int(0.002 / self.data.interval)
        near = self.torque[max(0, sample - half) : sample + half + 1]
        return signal.total(near) / len(near)

    def _settled(self, calm: Floats, first: int, last: int, level: float) -> int | None:
        """The first sample of the steady part."""
        import numpy as np

        if self.data.angle is not None:
            turned = np.abs(self.data.angle[first:] - self.data.angle[first])
            steady = np.flatnonzero(turned >= STEADY_DEGREES)
            at = first + int(steady[0]) if len(steady) else last
            return at if at < last else None
        doubt = 3 * self.noise * (self.data.interval / CALM_SECONDS) ** 0.5
        above = np.flatnonzero(calm[first:] >= level + doubt)
        reached = first + int(above[0]) if len(above) else first
        down = np.flatnonzero(calm[reached:] <= level)
        at = reached + int(down[0]) if len(down) else last
        return at if at < last else None

    def _moving(self, first: int, settled: int) -> int:
        """The last sample that may be the breakaway."""
        import numpy as np

        if self.data.angle is None:
            return settled
        turned = np.abs(self.data.angle[first:] - self.data.angle[first])
        moved = np.flatnonzero(turned >= MOVED_DEGREES)
        return first + int(moved[0]) if len(moved) else settled

    def _angle(
        self, settled: int, ends: int, turns: float | None, seconds_per_turn: float | None
    ) -> Floats | None:
        """Degrees turned since the steady part began, at each of its samples."""
        import numpy as np

        seconds = self.data.seconds[settled : ends + 1]
        passed = seconds - seconds[0]
        if turns is not None:
            even: Floats = passed * (TURN * turns / float(passed[-1]))
            return even
        if seconds_per_turn is not None:
            told: Floats = passed * (TURN / seconds_per_turn)
            return told
        if self.data.angle is None:
            return None
        angle = self.data.angle[settled : ends + 1]
        turned = angle - angle[0]
        # A hand turns back a little between pulls, and an encoder jitters: neither is new ground.
        onward = np.maximum.accumulate(turned if turned[-1] >= 0 else -turned)
        return onward if float(onward[-1]) > 0 else None

    def _over_a_turn(self, angle: Floats | None, settled: int, ends: int) -> tuple[Ripple, float]:
        """The ripple, and the mean running torque."""
        import numpy as np

        torque = self.torque[settled : ends + 1]
        if angle is None:
            calm = signal.mean_around(torque, int(CALM_SECONDS / 2 / self.data.interval))
            most, least = int(calm.argmax()), int(calm.argmin())
            size = float(calm[most] - calm[least])
            where = self._when(settled + most), self._when(settled + least)
            return Ripple(size, *where, None), signal.total(torque) / len(torque)
        turns = int(angle[-1] / TURN + 1e-9)
        if not turns:
            self.findings.append(
                Finding(
                    Code.SHORT_OF_A_TURN,
                    f"Less than one turn was steady ({angle[-1]:.0f}°): the ripple over a whole "
                    "turn is not known. Turn on.",
                )
            )
        degrees = TURN * turns if turns else max(1, int(angle[-1]))
        profile = _by_degree(angle, torque, degrees)
        mean = signal.total(profile) / len(profile)
        if turns:
            profile = np.add.accumulate(profile.reshape(turns, TURN), axis=0)[-1] / turns
        profile = _around(profile, 5, closed=bool(turns))
        most, least = int(profile.argmax()), int(profile.argmin())
        return Ripple(float(profile[most] - profile[least]), most, least, turns), mean

    def _extreme(self, smooth: Floats, at: int, settled: int, angle: Floats | None) -> Extreme:
        return Extreme(
            float(smooth[at]),
            self._when(settled + at),
            None if angle is None else float(angle[at]),
        )


def _by_degree(angle: Floats, torque: Floats, degrees: int) -> Floats:
    """Mean torque in every degree; where a degree has no sample, between its neighbours."""
    import numpy as np

    at = angle.astype(np.int64)
    inside = at < degrees
    counts = np.bincount(at[inside], minlength=degrees)
    sums = np.bincount(at[inside], weights=torque[inside], minlength=degrees)
    seen = np.flatnonzero(counts)
    made: Floats = np.interp(np.arange(degrees), seen, sums[seen] / counts[seen])
    return made


def _around(profile: Floats, half: int, *, closed: bool) -> Floats:
    """Means over ``half`` degrees to each side, round the end where it is a closed turn."""
    import numpy as np

    if not closed:
        return signal.mean_around(profile, half)
    wrapped = np.concatenate((profile[-half:], profile, profile[:half]))
    return signal.mean_around(wrapped, half)[half:-half]
