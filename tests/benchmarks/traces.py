"""Reading a torque trace: beside scipy finding its peaks in the same samples, and in a record.

The peer does what anyone would write with scipy: a smoothing pass, ``find_peaks`` by height and
prominence, and the fall after each peak. It finds the click alone; ours also finds the resting
zero, the noise, the rise, falls, a run-down, a flat top and what is wrong with the samples.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

import numpy as np
from scipy.ndimage import uniform_filter1d
from scipy.signal import find_peaks

from capture.trace import Trace, analyse_pull, compress, expand
from simulators.waveforms import Sensor, Tightening, pull
from tests.benchmarks.measure import median_ratio, take_turns
from tests.benchmarks.table import Row, seconds

RATES = (1000, 5000)
SECONDS = 5.0
BOUND = 3.0
KEEPING_BOUND = 6.0


def rows(rounds: int, say: Callable[[str], None]) -> list[Row]:
    """One row for the analysis and one for the keeping of a 5 s pull, at 1 kHz and at 5 kHz."""
    made = []
    for rate in RATES:
        trace = _pull(rate)
        times = take_turns(
            {
                # Each lambda keeps its own trace by a default, which mypy cannot type.
                "ours": lambda trace=trace: _timed(lambda: analyse_pull(trace)),  # type: ignore[misc]
                "peer": lambda trace=trace: _timed(lambda: peer(trace)),  # type: ignore[misc]
                "kept": lambda trace=trace: _timed(lambda: expand(compress(trace))),  # type: ignore[misc]
                "text": lambda trace=trace: _timed(lambda: _as_text(trace)),  # type: ignore[misc]  # as above
            },
            max(3, rounds),
            say,
        )
        what = f"a pull of {SECONDS:g} s at {rate / 1000:g} kHz"
        made.append(_row(f"read {what}", times, "ours", "peer", "scipy peaks alone", BOUND))
        made.append(
            _row(f"keep and read back {what}", times, "kept", "text", "JSON, zlib", KEEPING_BOUND)
        )
    return made


def peer(trace: Trace) -> list[tuple[float, float]]:
    """Clicks by scipy: time and torque of each."""
    times, torque = np.asarray(trace.seconds), np.asarray(trace.torque)
    rate = 1 / float(np.median(np.diff(times)))
    smooth = uniform_filter1d(torque, max(1, int(0.004 * rate)))
    highest = float(smooth.max())
    ahead = round(0.012 * rate)
    peaks, _ = find_peaks(smooth, height=highest / 4, prominence=highest / 10)
    found = []
    for peak in peaks:
        if smooth[peak : peak + ahead].min() <= 0.9 * smooth[peak]:
            found.append((float(times[peak]), float(smooth[peak])))
    return found


def _pull(rate: float) -> Trace:
    how = Tightening(rest=0.5, rise=1.3)
    wave = pull(how, Sensor(rate, offset=0.4, noise=0.02), "benchmark")
    spare = SECONDS - wave.seconds[-1]
    how = Tightening(rest=0.5 + spare, rise=1.3)
    wave = pull(how, Sensor(rate, offset=0.4, noise=0.02, step=0.01), "benchmark")
    torques = [round(torque, 2) for torque in wave.torques]
    trace = Trace(wave.seconds, torques, None, "N·m")
    ours, theirs = analyse_pull(trace), peer(trace)
    if len(ours.clicks) != 1 or len(theirs) != 1:
        raise RuntimeError(f"one click was drawn; ours {ours.clicks}, scipy's {theirs}")
    return trace


def _as_text(trace: Trace) -> object:
    """What keeping a trace costs at least by the standard library: JSON and zlib, both ways."""
    import json
    import zlib

    blob = zlib.compress(json.dumps([trace.seconds, trace.torque]).encode(), 6)
    return json.loads(zlib.decompress(blob))


def _timed(work: Callable[[], object]) -> float:
    """Seconds that one call takes: the best of some, since the machine is shared."""
    best = []
    for _ in range(7):
        start = time.perf_counter()
        work()
        best.append(time.perf_counter() - start)
    return min(best)


def _row(
    what: str, times: dict[str, list[float]], ours: str, beside: str, title: str, bound: float
) -> Row:
    return Row(
        what,
        seconds(statistics.median(times[ours])),
        f"{title} {seconds(statistics.median(times[beside]))}",
        median_ratio(times[ours], times[beside]),
        bound,
    )
