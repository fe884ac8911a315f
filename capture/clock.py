"""The one place where the two clocks are read."""

from __future__ import annotations

import time

from capture.reading import Stamp

_cached: tuple[int, str] = (-1, "")


class SystemClock:
    """The machine's clocks."""

    def now(self) -> Stamp:
        global _cached
        second, rest = divmod(time.time_ns(), 1_000_000_000)
        # Formatting the date once a second instead of for every press saves a microsecond. One
        # tuple, read once and replaced whole, so that two threads never mix two seconds.
        cached = _cached
        if cached[0] != second:
            cached = (second, time.strftime("%Y-%m-%dT%H:%M:%S.", time.gmtime(second)))
            _cached = cached
        return Stamp(f"{cached[1]}{rest // 1000:06d}Z", time.monotonic_ns())
