"""The resting zero of a trace: where the sensor stood before anyone pulled."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from capture.trace.samples import Floats

LEAST_SECONDS: Final = 0.05
LEAST_SAMPLES: Final = 3
BAND: Final = 0.01
"""How far a rest may wander, as a part of the trace's span, besides eight times the noise."""
DRIFT: Final = 0.005
"""How far the two halves of a rest may differ, as a part of the span, besides the noise."""
MEDIAN_SPREAD: Final = 1.2533
"""Standard deviation of a median over that of a mean, for normal noise."""


class Rest(NamedTuple):
    """A quiet stretch at the start (or the end) of a trace."""

    level: float
    samples: int


def rest_at_start(torque: Floats, interval: float, noise: float) -> Rest | None:
    """The quiet stretch that the trace begins with; None where it begins with a slope.

    ``interval`` in seconds, ``noise`` as a standard deviation in the trace's unit. The longest
    stretch inside the band is taken, then halved until its two halves agree, so that the foot of
    the rise does not count as rest.
    """
    import numpy as np

    least = max(LEAST_SAMPLES, int(LEAST_SECONDS / interval))
    span = float(torque.max() - torque.min())
    wander = np.maximum.accumulate(torque) - np.minimum.accumulate(torque)
    quiet = wander <= 8 * noise + BAND * span
    count = len(torque) if quiet.all() else int(np.argmin(quiet))
    while count >= least:
        half = count // 2
        apart = abs(float(np.median(torque[half:count])) - float(np.median(torque[:half])))
        if apart <= 3 * MEDIAN_SPREAD * noise * (4 / count) ** 0.5 + DRIFT * span:
            return Rest(float(np.median(torque[:count])), count)
        count = half
    return None


def resting_zero(torque: Floats, interval: float, noise: float) -> Rest | None:
    """The rest before the pull; where there is none, the rest after it if it lies low enough to
    be one (a trace that ends under a steady hold has none); else None."""
    found = rest_at_start(torque, interval, noise)
    if found is not None:
        return found
    found = rest_at_start(torque[::-1], interval, noise)
    low, high = float(torque.min()), float(torque.max())
    if found is not None and found.level - low <= (high - low) / 10:
        return found
    return None
