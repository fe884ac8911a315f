"""Primitives on evenly sampled torque: noise, means before and after, maxima, the lowest ahead.

Only sums taken in order, selections and single operations are used, so that every platform gives
the same digits. Shapes: every array is ``(n,)``, oldest sample first.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from capture.trace.samples import Floats, Whole

NORMAL_MAD = 1.482602218505602
"""Standard deviation of a normal distribution over its median absolute deviation."""


class Maxima(NamedTuple):
    """Local maxima: samples, or flat tops, with lower samples on both sides. ``(m,)`` each."""

    middle: Whole
    """Rounded down, where a flat top has an even number of samples."""
    first: Whole
    last: Whole


def local_maxima(values: Floats) -> Maxima:
    """The local maxima; the ends of the array, and a flat array, have none.

    A flat top counts once, as ``scipy.signal.find_peaks`` counts it.
    """
    import numpy as np

    changes = np.flatnonzero(values[1:] != values[:-1])
    first = np.concatenate(([0], changes + 1))
    last = np.concatenate((changes, [len(values) - 1]))
    level = values[first]
    tops = np.flatnonzero((level[1:-1] > level[:-2]) & (level[1:-1] > level[2:])) + 1
    first, last = first[tops], last[tops]
    return Maxima((first + last) // 2, first, last)


def noise(values: Floats) -> float:
    """Standard deviation of the noise on a smooth curve, from its second differences.

    The median makes it deaf to breaks and corners. Samples above mid-height are looked at by
    themselves too, since some devices send a clean zero and a noisy load; the larger counts.
    """
    import numpy as np

    bends = np.abs(values[2:] - 2 * values[1:-1] + values[:-2])
    high = values[1:-1] > (values.min() + values.max()) / 2
    loaded = bends[high]
    widths = [float(np.median(bends))]
    if len(loaded) >= 8:
        widths.append(float(np.median(loaded)))
    return NORMAL_MAD * max(widths) / 6**0.5  # var(a - 2b + c) is six times the variance


def mean_before(values: Floats, width: int) -> Floats:
    """At each sample the mean of the last ``width`` samples up to it (fewer at the start)."""
    return _means(values, width - 1, 0)


def mean_after(values: Floats, width: int) -> Floats:
    """At each sample the mean of ``width`` samples from it on (fewer at the end)."""
    return _means(values, 0, width - 1)


def mean_around(values: Floats, half: int) -> Floats:
    """At each sample the mean of ``half`` samples to each side and itself (fewer at the ends)."""
    return _means(values, half, half)


def _means(values: Floats, back: int, ahead: int) -> Floats:
    import numpy as np

    if not back and not ahead:
        return values
    count = len(values)
    sums = np.concatenate(([0.0], np.cumsum(values)))
    at = np.arange(count)
    low = np.maximum(at - back, 0)
    high = np.minimum(at + ahead + 1, count)
    means: Floats = (sums[high] - sums[low]) / (high - low)
    return means


def lowest(values: Floats, width: int) -> Floats:
    """At each sample the lowest of ``width`` samples from it on; those past the end are +inf."""
    import numpy as np

    made = np.concatenate((values, np.full(width, np.inf)))
    reach = 1
    while reach * 2 <= width:  # each pass doubles how far ahead has been looked
        made[: -reach or None] = np.minimum(made[:-reach], made[reach:])
        reach *= 2
    rest = width - reach
    if rest:
        made[:-rest] = np.minimum(made[:-rest], made[rest:])
    return made[: len(values)]


def total(values: Floats) -> float:
    """The sum, taken in order (numpy's own sum depends on the processor)."""
    import numpy as np

    return float(np.cumsum(values)[-1]) if len(values) else 0.0
