"""One pull on a fastener: what its trace of torque against time shows.

Nothing here is a limit of acceptance: the pull's torque is judged against the spec elsewhere. The
times from 80 % of the torque to the click are those ISO 6789 gives for trying a tool (0.5 s to
4 s, as a torque tool's review sheet of that standard quotes it); other times can be given.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from capture.trace import course, signal
from capture.trace.breaks import Click, Smooth, find_clicks, needed_fall, smooth
from capture.trace.course import LetOff, Plateau
from capture.trace.finding import Code, Finding, said, shown
from capture.trace.rest import MEDIAN_SPREAD, Rest, resting_zero
from capture.trace.samples import Arrays, Trace, arrays

if TYPE_CHECKING:
    from capture.trace.samples import Floats

FLOOR: Final = 0.25
"""Part of the trace's peak under which no break is looked for, where no threshold is given: a
thread that chatters while it runs down does not click."""
UNDER_LOAD: Final = 0.10
"""Part of the peak that tells a load from rest, at the end of a trace."""
SHORTEST_RISE: Final = 0.5
LONGEST_RISE: Final = 4.0
MISSING: Final = 5
"""A step of so many intervals has lost samples."""
MOST_TOLD: Final = 10
"""Further clicks, and let-offs, that are told one by one."""


class Peak(NamedTuple):
    """A largest torque and when, in seconds as sent."""

    at: float
    torque: float


class Pull(NamedTuple):
    """What one pull shows. Torques in ``unit``, with the resting zero taken off and positive in
    the direction of the pull; times in seconds as sent."""

    unit: str
    zero: float
    """The resting zero that was taken off, with its sign as sent."""
    noise: float
    """Standard deviation of one sample."""
    interval: float
    """Seconds between samples (median)."""
    start: float | None
    """Where the last rise to the click (or the peak) begins, after any run-down or slip."""
    clicks: tuple[Click, ...]
    peak: Peak
    """Of the whole trace."""
    peak_after: Peak | None
    """After the first click."""
    over_pull: float | None
    """Peak after the click less the click, where it is above it by more than the noise."""
    rise_seconds: float | None
    """From 80 % of the click (or of the target, or of the peak) to the click (or peak)."""
    run_down: Plateau | None
    let_offs: tuple[LetOff, ...]
    """Falls to near zero before the click, after which the pull went on."""
    angle: float | None
    """Degrees turned from the start of the rise to the click (or the peak)."""
    findings: tuple[Finding, ...]

    @property
    def click(self) -> Click | None:
        """The first break."""
        return self.clicks[0] if self.clicks else None

    @property
    def torque(self) -> float:
        """What the fastener got by this trace: the click, or the peak of a pull without one."""
        return self.clicks[0].torque if self.clicks else self.peak.torque

    def has(self, code: Code) -> bool:
        """Whether ``code`` is among the findings."""
        return any(finding.code is code for finding in self.findings)


def analyse_pull(
    trace: Trace,
    *,
    threshold: float | None = None,
    target: float | None = None,
    capacity: float | None = None,
    click_expected: bool = True,
    shortest_rise: float = SHORTEST_RISE,
    longest_rise: float = LONGEST_RISE,
) -> Pull:
    """What the trace of one pull shows.

    ``threshold``: torque above zero under which no break is looked for (a quarter of the peak
    where it is None). ``target``: the torque set, of which 80 % starts the rise. ``capacity``: the
    sensor's largest torque. Both in the trace's unit. ``click_expected`` is False for indicating
    tools (ISO 6789 type I), whose pulls have no break. ``shortest_rise`` and ``longest_rise`` in
    seconds. Raises ValueError where the samples cannot be read (see ``samples.arrays``) or an
    argument is not positive.
    """
    for name, value in (("threshold", threshold), ("target", target), ("capacity", capacity)):
        if value is not None and not value > 0:
            raise ValueError(f"The {name} of a pull must be more than 0, not {value!r}.")
    data = arrays(trace)
    noise = signal.noise(data.torque)
    rest = resting_zero(data.torque, data.interval, noise)
    torque = data.torque - (rest.level if rest else 0.0)
    reversed_ = -float(torque.min()) > float(torque.max())
    smoothed = smooth(-torque if reversed_ else torque, data.interval, noise)
    findings = _about_samples(data, trace.unit, rest, noise)
    if reversed_:
        findings.append(
            Finding(Code.REVERSED, "The torque is negative: the pull was to the other side.")
        )
    return _Pulled(
        trace.unit, data, data.seconds + data.start, smoothed, rest.level if rest else 0.0, findings
    ).read(threshold, target, capacity, click_expected, (shortest_rise, longest_rise))


class _Pulled(NamedTuple):
    """A pull being read."""

    unit: str
    data: Arrays
    times: Floats
    smoothed: Smooth
    zero: float
    findings: list[Finding]

    def read(
        self,
        threshold: float | None,
        target: float | None,
        capacity: float | None,
        click_expected: bool,
        rise_limits: tuple[float, float],
    ) -> Pull:
        before = self.smoothed.before
        top = int(before.argmax())
        peak = Peak(float(self.times[top]), float(before[top]))
        floor = FLOOR * peak.torque if threshold is None else threshold
        if peak.torque <= max(floor, 8 * self.smoothed.noise):
            return self._nothing(peak, floor)
        clicks = find_clicks(self.smoothed, self.times, floor)
        end = clicks[0].sample if clicks else top
        calm = course.calmed(self.smoothed, end, peak.torque)
        seconds = self.data.seconds
        plateau = course.run_down(calm, seconds, self.smoothed)
        start = course.start_of_rise(calm, self.smoothed, plateau)
        rise = course.rise_seconds(calm, seconds, target or float(before[end]))
        let_offs = course.let_offs(before[: end + 1], self.times)
        after = self._after(clicks[0]) if clicks else None
        over = self._over(clicks[0], after, rise) if after else None
        angle = self.data.angle
        pull = Pull(
            self.unit,
            self.zero,
            self.smoothed.noise,
            self.data.interval,
            float(self.times[start]),
            tuple(clicks),
            peak,
            after,
            over,
            rise,
            plateau,
            tuple(let_offs),
            None if angle is None else float(abs(angle[end] - angle[start])),
            (),
        )
        self._about_clicks(pull, click_expected)
        self._about_course(pull, rise_limits)
        self._about_sensor(pull, capacity)
        return pull._replace(findings=tuple(self.findings))

    def _nothing(self, peak: Peak, floor: float) -> Pull:
        self.findings.append(
            Finding(
                Code.NO_PULL,
                f"No pull: the torque never rose clear of {said(floor, self.unit)} and the noise "
                f"(peak {said(peak.torque, self.unit)}).",
            )
        )
        return Pull(
            self.unit,
            self.zero,
            self.smoothed.noise,
            self.data.interval,
            None,
            (),
            peak,
            None,
            None,
            None,
            None,
            (),
            None,
            tuple(self.findings),
        )

    def _after(self, click: Click) -> Peak | None:
        """The largest torque after the fall of ``click``."""
        before = self.smoothed.before
        foot = click.sample + int(
            self.smoothed.after[click.sample + 1 : click.sample + 1 + self.smoothed.window].argmin()
        )
        first = foot + self.smoothed.width  # from here on the mean before knows only the foot on
        if first >= len(before):
            return None
        at = first + int(before[first:].argmax())
        return Peak(float(self.times[at]), float(before[at]))

    def _over(self, click: Click, after: Peak, rise: float | None) -> float | None:
        """How far the peak after the click is above it, where noise and sampling leave no doubt."""
        climb = _climb(click, rise, self.data.interval)
        over = after.torque - click.torque
        return over if over > max(3 * self.smoothed.doubt, click.torque / 1000, climb) else None

    def _about_clicks(self, pull: Pull, expected: bool) -> None:
        unit, click = self.unit, pull.click
        if click is None:
            if expected:
                least = 100 * needed_fall(self.smoothed, pull.peak.torque) / pull.peak.torque
                self._say(
                    Code.NO_CLICK,
                    f"No click: the torque rose to {said(pull.peak.torque, unit)} without a break "
                    f"(a sudden fall of {shown(least)} % would have counted, by this noise).",
                )
            return
        if pull.over_pull is not None and pull.peak_after is not None:
            share = shown(100 * pull.over_pull / click.torque)
            self._say(
                Code.OVER_PULL,
                f"Pulled past the click: {said(pull.peak_after.torque, unit)} at "
                f"{pull.peak_after.at:.3f} s, after a click at {said(click.torque, unit)} "
                f"({share} % above it).",
            )
        for second in pull.clicks[1 : 1 + MOST_TOLD]:
            self._say(
                Code.SECOND_CLICK,
                f"Clicked again at {said(second.torque, unit)}, "
                f"{second.at - click.at:.2f} s after the first click.",
            )
        if len(pull.clicks) > 1 + MOST_TOLD:
            more = len(pull.clicks) - 1 - MOST_TOLD
            self._say(Code.SECOND_CLICK, f"And {more:,} clicks more: this is no single pull.")
        coarse = self.data.interval > 0.010
        if coarse and pull.rise_seconds:
            error = _climb(click, pull.rise_seconds, self.data.interval)
            self._say(
                Code.COARSE_SAMPLING,
                f"One sample every {1000 * self.data.interval:.0f} ms: the click may lie up to "
                f"{said(error, unit)} above what was sampled, and a quick one may be missed.",
            )

    def _about_course(self, pull: Pull, limits: tuple[float, float]) -> None:
        unit = self.unit
        what = "click" if pull.click else "peak"
        if pull.rise_seconds is not None and pull.rise_seconds < limits[0]:
            self._say(
                Code.TOO_FAST,
                f"Jerked: {pull.rise_seconds:.2f} s from 80 % to the {what}, "
                f"less than {limits[0]:g} s.",
            )
        if pull.rise_seconds is not None and pull.rise_seconds > limits[1]:
            self._say(
                Code.TOO_SLOW,
                f"Slow: {pull.rise_seconds:.2f} s from 80 % to the {what}, "
                f"more than {limits[1]:g} s.",
            )
        for one in pull.let_offs[:MOST_TOLD]:
            fell = (
                f"fell from {said(one.torque, unit)} to {said(one.low, unit)} "
                f"within {one.seconds * 1000:.0f} ms at {one.at:.2f} s and rose again"
            )
            if one.sudden:
                self._say(Code.SLIP, f"Slipped: the torque {fell}, with no click before it.")
            else:
                self._say(Code.LET_OFF, f"Let off and pulled again: the torque {fell}.")
        if pull.run_down is not None:
            self._say(
                Code.RUN_DOWN,
                f"Ran down at {said(pull.run_down.torque, unit)} for {pull.run_down.seconds:.2f} s "
                "before the rise: prevailing torque, which the click contains.",
            )

    def _about_sensor(self, pull: Pull, capacity: float | None) -> None:
        flat = course.flat_top(self.smoothed, self.data.seconds)
        most = pull.peak.torque + abs(self.zero)
        if capacity is not None and most >= capacity:
            self._say(
                Code.SATURATED,
                f"The sensor reached its capacity of {said(capacity, self.unit)}: "
                "the true peak may be higher.",
            )
        elif flat is not None:
            self._say(
                Code.SATURATED,
                f"Flat top: {flat.samples} samples alike at {said(flat.torque, self.unit)} over "
                f"{flat.seconds * 1000:.0f} ms, reached at full slope. The sensor may be at its "
                "end, and the true peak higher.",
            )
        last = float(self.smoothed.before[-1])
        if last > UNDER_LOAD * pull.peak.torque:
            self._say(
                Code.ENDS_UNDER_LOAD,
                f"The trace ends under load, at {said(last, self.unit)}: its end is missing.",
            )

    def _say(self, code: Code, text: str) -> None:
        self.findings.append(Finding(code, text))


def _climb(click: Click, rise: float | None, interval: float) -> float:
    """How far the torque rises in one interval before the click: what sampling may miss of it."""
    return (1 - course.RISE_FROM) * click.torque / rise * interval if rise else 0.0


def _about_samples(data: Arrays, unit: str, rest: Rest | None, noise: float) -> list[Finding]:
    """Missing samples, a missing rest, an offset."""
    import numpy as np

    findings = []
    steps = np.diff(data.seconds)
    longest = int(steps.argmax())
    if steps[longest] > MISSING * data.interval:
        at = data.start + data.seconds[longest]
        findings.append(
            Finding(
                Code.SAMPLES_MISSING,
                f"Samples are missing: none for {steps[longest]:.3f} s from {at:.3f} s on, "
                f"against one every {1000 * data.interval:.2f} ms.",
            )
        )
    if rest is None:
        findings.append(
            Finding(
                Code.NO_REST,
                f"The trace begins under load, at {said(float(data.torque[0]), unit)}: "
                "the resting zero could not be seen and none was taken off.",
            )
        )
    else:
        span = float(data.torque.max() - data.torque.min())
        doubt = 3 * MEDIAN_SPREAD * noise / rest.samples**0.5
        if abs(rest.level) > max(doubt, span / 200):
            findings.append(
                Finding(
                    Code.ZERO_OFFSET,
                    f"The tool rested at {said(rest.level, unit)}, which was taken off.",
                )
            )
    return findings
