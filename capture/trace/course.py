"""The course of a pull up to its click: run-down, start of the rise, its time, falls, a flat top.

Every function takes the torque from the first sample up to the click (or, without one, the peak).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from capture.trace import signal

if TYPE_CHECKING:
    from capture.trace.breaks import Smooth
    from capture.trace.samples import Floats

CALM_SECONDS: Final = 0.05
RISE_FROM: Final = 0.8
"""ISO 6789: the last rise is timed from 80 % of the torque."""
STEP: Final = 0.06
"""Height of the band in which a run-down stays, as a part of the torque reached."""
LEAST_DWELL: Final = 0.3
SLOWER: Final = 4
"""How many times longer than the rise after it a run-down stays in a band."""
NEAR_ZERO: Final = 0.25
SUDDEN_SECONDS: Final = 0.06


class Plateau(NamedTuple):
    """A stretch of steady torque before the rise: running down, or prevailing torque."""

    torque: float
    """Median."""
    seconds: float
    first: int
    last: int
    """Samples of the stretch; ``last`` is the first one after it."""


class LetOff(NamedTuple):
    """A fall to near zero before the click, after which the torque rose again."""

    at: float
    """When it began, in seconds as sent."""
    torque: float
    """The highest before it."""
    low: float
    seconds: float
    """From four fifths of it to a quarter."""
    sudden: bool
    """A slip: faster than a hand lets off."""


class FlatTop(NamedTuple):
    """Samples exactly alike at the top of the trace."""

    torque: float
    samples: int
    seconds: float


def calmed(smoothed: Smooth, end: int, peak: float) -> Floats:
    """The torque up to ``end``, as means over 50 ms where there is noise to speak of."""
    torque = smoothed.torque[: end + 1]
    if smoothed.noise <= peak / 1000:
        return torque
    return signal.mean_around(torque, _half(smoothed))


def _half(smoothed: Smooth) -> int:
    return int(CALM_SECONDS / 2 / smoothed.interval)


def run_down(calm: Floats, seconds: Floats, smoothed: Smooth) -> Plateau | None:
    """The stretch in which the torque stays longest within a band of 6 % of what it reaches.

    It counts where it lies in the lower half, lasts 0.3 s or more, and takes four times as long as
    the rise after it takes for an equal step.
    """
    import numpy as np

    reached = np.maximum.accumulate(calm)
    parts = np.arange(101) / 100
    first = np.minimum(np.searchsorted(reached, parts * reached[-1]), len(calm) - 1)
    times = seconds[first]
    step = round(STEP * 100)
    lows = np.arange(3, 51)
    dwell = times[lows + step] - times[lows]
    rest = (times[100] - times[lows + step]) * STEP / (1 - STEP - parts[lows])
    counts = np.flatnonzero((dwell >= LEAST_DWELL) & (dwell >= SLOWER * rest))
    if not len(counts):
        return None
    best = int(lows[counts[np.argmax(dwell[counts])]])
    begins, ends = int(first[best]), int(first[best + step])
    torque = float(np.median(smoothed.torque[begins:ends]))
    if torque < RISE_FROM * float(parts[best] * reached[-1]):
        return None  # a slip or a let-off lies in it
    return Plateau(torque, float(seconds[ends] - seconds[begins]), begins, ends)


def start_of_rise(calm: Floats, smoothed: Smooth, plateau: Plateau | None) -> int:
    """The last sample at the foot of the rise: near zero, or near the run-down's torque."""
    import numpy as np

    top = float(calm[-1])
    doubt = smoothed.noise / (2 * _half(smoothed) + 1) ** 0.5
    foot = (plateau.torque if plateau else 0.0) + max(4 * doubt, top / 50)
    below = np.flatnonzero(calm <= foot)
    return int(below[-1]) if len(below) else 0


def rise_seconds(calm: Floats, seconds: Floats, torque: float) -> float | None:
    """Seconds from 80 % of ``torque`` to the end; None where it never was below, or is not
    reached. Between samples the torque is taken as straight."""
    import numpy as np

    wanted = RISE_FROM * torque
    below = np.flatnonzero(calm < wanted)
    if not len(below) or below[-1] == len(calm) - 1:
        return None
    last = int(below[-1])
    part = (wanted - calm[last]) / (calm[last + 1] - calm[last])
    crossed = seconds[last] + part * (seconds[last + 1] - seconds[last])
    return float(seconds[len(calm) - 1] - crossed)


def let_offs(torque: Floats, times: Floats) -> list[LetOff]:
    """Falls to a quarter or less of the highest so far, which itself was a fifth or more of what
    is reached at last. ``torque`` ends at the click, so every fall was followed by a rise."""
    import numpy as np

    reached = np.maximum.accumulate(torque)
    down = (torque <= NEAR_ZERO * reached) & (reached >= torque[-1] / 5)
    begins = np.flatnonzero(down & ~np.concatenate(([False], down[:-1])))
    if not len(begins):
        return []
    high = np.where(torque >= RISE_FROM * reached, np.arange(len(torque)), 0)
    from_ = np.maximum.accumulate(high)[begins]  # the last sample still at four fifths
    _, once = np.unique(from_, return_index=True)
    found = []
    for index in once:
        start, fell = int(from_[index]), int(begins[index])
        again = int(np.argmax(high[fell:] > 0)) + fell  # where four fifths were reached once more
        taken = float(times[fell] - times[start])
        found.append(
            LetOff(
                float(times[start]),
                float(reached[fell]),
                float(torque[fell : again + 1].min()),
                taken,
                taken <= SUDDEN_SECONDS,
            )
        )
    return found


def flat_top(smoothed: Smooth, seconds: Floats) -> FlatTop | None:
    """The longest run of samples exactly alike at the trace's maximum, where it looks cut off.

    Cut off: five samples and 10 ms or more, and over as many samples before the run the torque
    rose by more than three of its smallest steps and six times the noise; a torque held by hand
    rounds off instead.
    """
    import numpy as np

    torque = smoothed.torque
    most = float(torque.max())
    walled = np.concatenate(([-np.inf], torque, [-np.inf]))  # a trace may end at its top
    tops = signal.local_maxima(walled)
    at_most = np.flatnonzero(walled[tops.first] == most)
    longest = at_most[np.argmax(tops.last[at_most] - tops.first[at_most])]
    first, last = int(tops.first[longest]) - 1, int(tops.last[longest]) - 1
    samples, lasted = last - first + 1, float(seconds[last] - seconds[first])
    if samples < 5 or lasted < 0.01:
        return None
    steps = np.abs(np.diff(torque))
    steps = steps[steps > 0]
    rose = most - float(torque[max(0, first - samples) : first + 1].min())
    if not len(steps) or rose <= max(3 * float(steps.min()), 6 * smoothed.noise):
        return None
    return FlatTop(most, samples, lasted)
