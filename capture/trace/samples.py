"""Samples of one pull or one turning test, as numbers and as the digits that were sent."""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

    Floats = NDArray[numpy.float64]
    Whole = NDArray[numpy.int64]

MOST_SAMPLES: Final = 10_000_000
FEWEST_SAMPLES: Final = 3

Sample = float | Decimal | str
"""A float stands for its shortest decimal text; decimal text and Decimal keep their digits."""


class Trace(NamedTuple):
    """Torque against time, oldest sample first, all of one length."""

    seconds: Sequence[float]
    """Each later than the one before; from any start."""
    torque: Sequence[float]
    """In ``unit``, as sent: the resting zero has not been taken off."""
    angle: Sequence[float] | None
    """Degrees, where the device sends them."""
    unit: str


class Written(NamedTuple):
    """The same with the digits as sent (text or Decimal), for keeping."""

    seconds: Sequence[Sample]
    torque: Sequence[Sample]
    angle: Sequence[Sample] | None
    unit: str

    def trace(self) -> Trace:
        """As floats, for analysis. Raises ValueError where a sample is not a number."""
        angle = None if self.angle is None else _floats("angle", self.angle)
        return Trace(
            _floats("time", self.seconds), _floats("torque", self.torque), angle, self.unit
        )


class Arrays(NamedTuple):
    """A trace as checked arrays, times from the first sample on."""

    seconds: Floats
    torque: Floats
    angle: Floats | None
    start: float
    """Time of the first sample as sent."""
    interval: float
    """Seconds between samples: the median, so that late arrivals do not count."""


def arrays(trace: Trace) -> Arrays:
    """The trace as arrays of floats.

    Raises ValueError where there are too few or too many samples, the lengths differ, a number is
    not finite, or a sample is not later than the one before it.
    """
    import numpy as np

    check_lengths(trace)
    columns = [("time", trace.seconds), ("torque", trace.torque)]
    if trace.angle is not None:
        columns.append(("angle", trace.angle))
    made = []
    for name, column in columns:
        array = np.asarray(column, dtype=np.float64)
        wrong = np.flatnonzero(~np.isfinite(array))
        if len(wrong):
            raise ValueError(
                f"Sample {wrong[0] + 1} of the trace has no finite {name}: leave it out."
            )
        made.append(array)
    steps = np.diff(made[0])
    stopped = np.flatnonzero(steps <= 0)
    if len(stopped):
        raise ValueError(
            f"Sample {stopped[0] + 2} of the trace is not later than the one before it: "
            "send the samples in order, each with its own time."
        )
    start = float(made[0][0])
    angle = made[2] if trace.angle is not None else None
    return Arrays(made[0] - start, made[1], angle, start, float(np.median(steps)))


def check_lengths(trace: Trace | Written) -> None:
    """Raises ValueError where the samples are too few or too many or do not pair up."""
    count = len(trace.torque)
    if not FEWEST_SAMPLES <= count <= MOST_SAMPLES:
        raise ValueError(
            f"A trace has {FEWEST_SAMPLES} to {MOST_SAMPLES:,} samples; this one has {count:,}."
        )
    for name, column in (("times", trace.seconds), ("angles", trace.angle)):
        if column is not None and len(column) != count:
            raise ValueError(
                f"The trace has {count:,} torques and {len(column):,} {name}: "
                "every sample needs both."
            )


def _floats(name: str, column: Sequence[Sample]) -> list[float]:
    made = []
    for number, sample in enumerate(column, 1):
        try:
            value = float(sample)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            raise ValueError(f"Sample {number} of the trace has no number for its {name}.")
        made.append(value)
    return made
