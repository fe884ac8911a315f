"""Where a click-type tool broke: a sudden fall from a local maximum, which then stops.

The rule: a local maximum above a floor, followed within 10 ms by a fall of at least a tenth of it,
to which the torque had risen by as much. Around it stand three guards.

- **Sampling.** The true maximum lies up to one interval after the sample that shows it, and the
  foot of the fall up to one interval before the sample that shows that; so the fall is looked for
  over the intervals that 10 ms begin in, and one more. At 50 Hz that is two samples.
- **Letting go.** At 50 Hz a hand lets go as fast as that. A break stops: over the next window as
  long, the torque falls by less than a quarter as much, and at least a quarter of the maximum is
  left. A straight or cosine let-off that slows to a quarter has under a fifth left, and an
  exponential one a quarter, so none of them passes, however long it takes. What falls lower is a
  slip, or a hand taken off.
- **Noise.** Means over up to 4 ms, taken before a sample and after it, never across the break; and
  a fall counts only where it is a tenth and twice the noise of a difference of such means, and at
  least six times that noise; a rise where it is a tenth and six times.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, NamedTuple

from capture.trace import signal

if TYPE_CHECKING:
    from capture.trace.samples import Floats, Whole

WINDOW_SECONDS: Final = 0.010
FALL: Final = 0.10
LEFT: Final = 0.25
GOES_ON: Final = 0.25
DOUBTED: Final = 2.0
DOUBTLESS: Final = 6.0
APART_SECONDS: Final = 0.05
"""Breaks closer together than this are one: the mechanism rattles."""
MEAN_SECONDS: Final = 0.004
QUIET: Final = 0.005
"""Noise as a part of the span that needs no mean."""


class Smooth(NamedTuple):
    """Torque above zero, with the means that the noise asks for."""

    torque: Floats
    before: Floats
    """Mean of the last ``width`` samples up to each."""
    after: Floats
    """Mean of ``width`` samples from each on."""
    width: int
    noise: float
    """Standard deviation of one sample."""
    window: int
    """Samples in which a break must fall."""
    interval: float

    @property
    def doubt(self) -> float:
        """Standard deviation of the difference of two such means."""
        return self.noise * math.sqrt(2 / self.width)


class Click(NamedTuple):
    """One break. Times in seconds as sent, torque above the resting zero in the trace's unit."""

    at: float
    torque: float
    """The peak of the break."""
    low: float
    """The lowest torque of the fall after it."""
    sample: int
    """Index of the peak."""

    @property
    def fall(self) -> float:
        """The fall as a part of the peak."""
        return (self.torque - self.low) / self.torque


def smooth(torque: Floats, interval: float, noise: float) -> Smooth:
    """The torque with means as wide as its noise asks for, at most 4 ms."""
    quiet = QUIET * float(torque.max() - torque.min())
    widest = max(1, int(MEAN_SECONDS / interval + 1e-6))
    if noise <= quiet:
        width = 1
    elif noise >= quiet * math.sqrt(widest):
        width = widest
    else:  # there ``quiet`` is not zero, however small the torque is
        width = math.ceil((noise / quiet) ** 2)
    return Smooth(
        torque,
        signal.mean_before(torque, width),
        signal.mean_after(torque, width),
        width,
        noise,
        math.ceil(WINDOW_SECONDS / interval - 1e-6) + 1,
        interval,
    )


def find_clicks(smoothed: Smooth, seconds: Floats, floor: float) -> list[Click]:
    """Every break above ``floor``, oldest first; ``seconds`` are the times to report."""
    import numpy as np

    top = smoothed.before
    # The next sample's mean starts after the break, however wide it is.
    ahead = signal.lowest(smoothed.after, smoothed.window)
    foot = _shifted(ahead, 1)
    later = _shifted(ahead, 1 + smoothed.window)
    fall = top - foot
    doubt = smoothed.doubt
    wanted = np.maximum(FALL * top + DOUBTED * doubt, DOUBTLESS * doubt)
    broke = (top > floor) & (fall >= wanted) & (foot >= LEFT * top)
    # Past the end of the trace nobody knows whether the fall stopped.
    later = np.where(np.isfinite(later), later, -np.inf)
    broke &= foot - later <= GOES_ON * fall + doubt
    clicks: list[Click] = []
    for at in _one_each(np.flatnonzero(broke), smoothed):
        peak = float(top[at])
        if rose(top, at, max(FALL * peak, DOUBTLESS * doubt), 3 * doubt):
            clicks.append(Click(float(seconds[at]), peak, float(foot[at]), at))
    return clicks


def needed_fall(smoothed: Smooth, torque: float) -> float:
    """The least fall from ``torque`` that counts as a break, in the trace's unit."""
    doubt = smoothed.doubt
    return max(FALL * torque + DOUBTED * doubt, DOUBTLESS * doubt)


def _shifted(values: Floats, by: int) -> Floats:
    import numpy as np

    return np.concatenate((values[by:], np.full(min(by, len(values)), np.inf)))


def _one_each(samples: Whole, smoothed: Smooth) -> list[int]:
    """Of every group of samples that follow one another closely the highest, the last of equals.

    Noise may hide which sample is the last before the fall, so the samples ahead of it, from which
    the fall is within reach too, stand together with it.
    """
    import numpy as np

    if not len(samples):
        return []
    apart = APART_SECONDS / smoothed.interval
    groups = np.split(samples, np.flatnonzero(np.diff(samples) > apart) + 1)
    return [int(group[::-1][np.argmax(smoothed.before[group[::-1]])]) for group in groups]


def rose(values: Floats, at: int, need: float, slack: float) -> bool:
    """Whether the values rose by ``need`` to that at ``at``, since they were last above it.

    Above it: by more than ``slack``. This is the left side of a peak's prominence.

    Looks back in ever longer pieces, since the answer is nearly always close by.
    """
    import numpy as np

    peak = values[at]
    end, length = at, 64
    while end > 0:
        piece = values[max(0, end - length) : end]
        higher = np.flatnonzero(piece > peak + slack)
        since = piece[higher[-1] + 1 :] if len(higher) else piece
        if len(since) and since.min() <= peak - need:
            return True
        if len(higher):
            return False
        end -= length
        length *= 2
    return False
