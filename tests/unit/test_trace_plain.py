"""The analysis of a pull beside a plain reading of the same rules: loops over lists, no arrays.

The plain one was written from the rules in the docstrings, apart from the vectorised one, and
looks at every sample in turn.
"""

from __future__ import annotations

import itertools
import math
import statistics
from typing import NamedTuple

import pytest

from capture.trace import Trace, analyse_pull
from simulators.waveforms import KINDS, Sensor, pull, tightening


class Plain(NamedTuple):
    zero: float
    noise: float
    clicks: list[tuple[float, float]]
    peak: float
    peak_after: float | None
    rise_seconds: float | None
    let_offs: int


def plain_noise(torque: list[float]) -> float:
    middle = (min(torque) + max(torque)) / 2
    bends, loaded = [], []
    for a, b, c in zip(torque, torque[1:], torque[2:], strict=False):
        bends.append(abs(a - 2 * b + c))
        if b > middle:
            loaded.append(bends[-1])
    widest = statistics.median(bends)
    if len(loaded) >= 8:
        widest = max(widest, statistics.median(loaded))
    return widest / 0.6744897501960817 / math.sqrt(6)


def plain_zero(torque: list[float], interval: float, noise: float) -> float | None:
    span = max(torque) - min(torque)
    low = high = torque[0]
    count = 0
    for value in torque:
        low, high = min(low, value), max(high, value)
        if high - low > 8 * noise + span / 100:
            break
        count += 1
    while count >= max(3, int(0.05 / interval)):
        one = statistics.median(torque[: count // 2])
        two = statistics.median(torque[count // 2 : count])
        if abs(one - two) <= 3 * 1.2533 * noise * math.sqrt(4 / count) + span / 200:
            return statistics.median(torque[:count])
        count //= 2
    return None


def mean(values: list[float]) -> float:
    return math.fsum(values) / len(values)


def plain_clicks(
    times: list[float], torque: list[float], interval: float, noise: float
) -> list[tuple[int, float, float]]:
    """Index, peak and foot of each break."""
    span = max(torque) - min(torque)
    width = max(1, min(math.ceil((noise / (span / 200)) ** 2), int(0.004 / interval + 1e-6)))
    window = math.ceil(0.010 / interval - 1e-6) + 1
    doubt = noise * math.sqrt(2 / width)
    before = [mean(torque[max(0, i - width + 1) : i + 1]) for i in range(len(torque))]
    after = [mean(torque[i : i + width]) for i in range(len(torque))]
    floor = max(before) / 4
    breaks: list[tuple[int, float, float]] = []
    for i, top in enumerate(before):
        next_, then = after[i + 1 : i + 1 + window], after[i + 1 + window : i + 1 + 2 * window]
        if top <= floor or not then:
            continue
        foot = min(next_)
        fell = top - foot >= max(0.1 * top + 2 * doubt, 6 * doubt)
        stopped = foot - min(then) <= (top - foot) / 4 + doubt
        if fell and stopped and foot >= top / 4:
            breaks.append((i, top, foot))
    clicks: list[tuple[int, float, float]] = []
    while breaks:
        group = [breaks.pop(0)]
        while breaks and breaks[0][0] - group[-1][0] <= 0.05 / interval:
            group.append(breaks.pop(0))
        best = max(group, key=lambda one: (one[1], one[0]))
        lowest, j = best[1], best[0] - 1
        while j >= 0 and before[j] <= best[1] + 3 * doubt:
            lowest = min(lowest, before[j])
            j -= 1
        if lowest <= best[1] - max(0.1 * best[1], 6 * doubt):
            clicks.append(best)
    return clicks


def plain_pull(times: list[float], sent: list[float]) -> Plain:
    interval = statistics.median(b - a for a, b in itertools.pairwise(times))
    noise = plain_noise(sent)
    zero = plain_zero(sent, interval, noise) or 0.0
    torque = [value - zero for value in sent]
    clicks = plain_clicks(times, torque, interval, noise)
    span = max(torque) - min(torque)
    width = max(1, min(math.ceil((noise / (span / 200)) ** 2), int(0.004 / interval + 1e-6)))
    before = [mean(torque[max(0, i - width + 1) : i + 1]) for i in range(len(torque))]
    peak = max(before)
    end = clicks[0][0] if clicks else before.index(peak)
    half = int(0.025 / interval) if noise > peak / 1000 else 0
    rising = torque[: end + 1]
    calm = [mean(rising[max(0, i - half) : i + half + 1]) for i in range(len(rising))]
    wanted, rise = 0.8 * before[end], None
    for i in range(len(calm) - 1):
        if calm[i] < wanted <= calm[i + 1]:
            crossed = (wanted - calm[i]) / (calm[i + 1] - calm[i])
            rise = times[end] - times[i] - crossed * (times[i + 1] - times[i])
    after = None
    if clicks:
        window = math.ceil(0.010 / interval - 1e-6) + 1
        next_ = [
            mean(torque[i : i + width]) for i in range(end + 1, min(end + 1 + window, len(torque)))
        ]
        rest = before[end + 1 + next_.index(min(next_)) + width - 1 :]
        after = max(rest) if rest else None
    return Plain(
        zero,
        noise,
        [(times[i], top) for i, top, _ in clicks],
        peak,
        after,
        rise,
        plain_let_offs(before[: end + 1]),
    )


def plain_let_offs(torque: list[float]) -> int:
    """How often it fell to a quarter of the highest so far, having been back at four fifths."""
    count, highest, fallen = 0, 0.0, False
    for value in torque:
        highest = max(highest, value)
        if value >= 0.8 * highest:
            fallen = False
        if not fallen and value <= highest / 4 and highest >= torque[-1] / 5:
            count, fallen = count + 1, True
    return count


def assert_agrees(times: list[float], torques: list[float]) -> None:
    ours = analyse_pull(Trace(times, torques, None, "N·m"))
    plain = plain_pull(times, torques)
    assert ours.zero == pytest.approx(plain.zero, rel=1e-9, abs=1e-9)
    assert ours.noise == pytest.approx(plain.noise, rel=1e-9, abs=1e-9)
    assert [one.at for one in ours.clicks] == pytest.approx([at for at, _ in plain.clicks])
    assert [one.torque for one in ours.clicks] == pytest.approx(
        [torque for _, torque in plain.clicks], rel=1e-9, abs=1e-9
    )
    assert ours.peak.torque == pytest.approx(plain.peak, rel=1e-9, abs=1e-9)
    assert len(ours.let_offs) == plain.let_offs
    if plain.rise_seconds is None:
        assert ours.rise_seconds is None
    else:
        assert ours.rise_seconds == pytest.approx(plain.rise_seconds, rel=1e-6)
    if plain.peak_after is None:
        assert ours.peak_after is None
    else:
        assert ours.peak_after is not None
        assert ours.peak_after.torque == pytest.approx(plain.peak_after, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("rate", [50, 200, 1000])
@pytest.mark.parametrize("noise", [0.0, 0.02])
def test_both_read_the_same(kind: str, rate: float, noise: float) -> None:
    sensor = Sensor(rate, offset=1.7, noise=noise, phase=0.37)
    wave = pull(tightening(kind), sensor, f"{kind} {rate}")
    assert_agrees(wave.seconds, wave.torques)


def test_both_read_the_same_at_5_khz() -> None:
    wave = pull(tightening("second-click"), Sensor(5000, noise=0.02), "quick")
    assert_agrees(wave.seconds, wave.torques)
