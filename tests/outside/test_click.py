"""Clicks and peaks against the rule as written, and against scipy's peak finding.

CK-01's trace is our own and synthetic (no outside source). The primitives are checked with the
examples of scipy's documentation and test-suite (scipy 1.17, seen in ``_peak_finding.py`` and
``tests/test_peak_finding.py``), and against scipy itself on generated traces.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import argrelmax, find_peaks, peak_prominences

from capture.trace import Code, Trace, analyse_pull
from capture.trace.breaks import rose, smooth
from capture.trace.course import flat_top
from capture.trace.signal import local_maxima, lowest
from simulators.waveforms import Sensor, pull, tightening

TRACE = Path(__file__).parent / "data" / "click_trace_1.csv"


@pytest.fixture(scope="module")
def clean() -> Trace:
    lines = TRACE.read_text("utf-8").splitlines()
    rows = list(csv.reader(lines[2:]))
    return Trace([float(row[0]) for row in rows], [float(row[1]) for row in rows], None, "N·m")


def test_ck_01_one_click_in_a_clean_trace(clean: Trace) -> None:
    """A local maximum above 2 N·m followed within 10 ms by a fall of 10 % of it or more: one
    click, 2.700 s ± 1 ms, 60.00 ± 0.01 N·m; the later maximum of 52 N·m is none, and neither is
    the hand's release at 2.9 s (which a rule of 5 % in 50 ms would count)."""
    found = analyse_pull(clean, threshold=2.0)
    assert len(found.clicks) == 1
    assert found.clicks[0].at == pytest.approx(2.700, abs=0.001)
    assert found.clicks[0].torque == pytest.approx(60.00, abs=0.01)
    assert found.clicks[0].fall == pytest.approx(0.25, abs=0.001)
    assert found.peak_after is not None
    assert found.peak_after.torque == pytest.approx(52, abs=0.01)
    assert found.over_pull is None
    assert analyse_pull(clean).clicks == found.clicks


def test_ck_02_peak_prominence() -> None:
    """scipy's docstring of peak_prominences: x = [0,1,0,3,1,3,0,4,0], peak at 5: prominence 3
    with bases 2 and 6. Ours asks whether the torque rose by so much since it was last above the
    peak (its left side) and how low it falls after it (its right side)."""
    x = np.array([0, 1, 0, 3, 1, 3, 0, 4, 0], dtype=float)
    prominence, left, right = (float(one[0]) for one in peak_prominences(x, [5]))
    assert (prominence, left, right) == (3, 2, 6)
    assert rose(x, 5, 3.0, 0.0)
    assert not rose(x, 5, 3.000001, 0.0)
    assert x[5] - lowest(x, 2)[5] == 3


def test_ck_02_on_any_array() -> None:
    """Left side of the prominence by scipy, on arrays that have been made up."""
    chance = np.random.default_rng(6789)
    for _ in range(50):
        x = chance.integers(0, 30, 300).astype(float)
        peaks, _ = find_peaks(x)
        _, left, _ = peak_prominences(x, peaks)
        for peak, base in zip(peaks.tolist(), left.tolist(), strict=True):
            height = float(x[peak] - x[base])
            assert rose(x, peak, height, 0.0)
            assert not rose(x, peak, height + 0.5, 0.0)


def test_ck_03_local_maxima() -> None:
    """scipy's docstring of argrelmax: x = [2,1,2,3,2,0,1,0] has maxima at 3 and 6; its
    test_constant: ten ones have none."""
    x = np.array([2, 1, 2, 3, 2, 0, 1, 0], dtype=float)
    assert local_maxima(x).middle.tolist() == [3, 6] == argrelmax(x)[0].tolist()
    assert local_maxima(np.ones(10)).middle.tolist() == []
    flat = Trace([n / 10 for n in range(10)], [1.0] * 10, None, "N·m")
    assert analyse_pull(flat).clicks == ()


def test_ck_05_flat_topped_peaks() -> None:
    """scipy's test_plateau_size: plateaus as long and as high as 1, 2, 3, 4, 8, 20, 111, parted by
    zeros, have their middles at 1, 3, 7, 11, 18, 33, 100. The highest is what a sensor at its end
    looks like."""
    sizes = [1, 2, 3, 4, 8, 20, 111]
    x = np.array([0.0])
    for size in sizes:
        x = np.concatenate((x, np.full(size, float(size)), [0.0]))
    found = local_maxima(x)
    assert found.middle.tolist() == [1, 3, 7, 11, 18, 33, 100]
    assert (found.last - found.first + 1).tolist() == sizes
    seconds = np.arange(len(x)) / 1000
    top = flat_top(smooth(x, 0.001, 0.0), seconds)
    assert top is not None
    assert (top.torque, top.samples) == (111, 111)


def test_local_maxima_agree_with_scipy() -> None:
    chance = np.random.default_rng(1)
    for high in (2, 5, 1000):
        x = chance.integers(0, high, 5000).astype(float)
        ours = local_maxima(x)
        peaks, about = find_peaks(x, plateau_size=1)
        assert ours.middle.tolist() == peaks.tolist()
        assert ours.first.tolist() == about["left_edges"].tolist()
        assert ours.last.tolist() == about["right_edges"].tolist()


@pytest.mark.parametrize("rate", [500, 1000, 5000])
def test_clicks_are_what_scipy_finds_by_the_rule(rate: float) -> None:
    """The rule in scipy's words, on clean traces: peaks of a prominence of a tenth of their
    height, of which those count that fall a tenth within 10 ms."""
    for kind in ("click", "over-pull", "second-click", "no-click", "slow", "run-down"):
        wave = pull(tightening(kind), Sensor(rate), kind)
        x = np.array(wave.torques)
        peaks, about = find_peaks(x, height=x.max() / 4, prominence=1e-9)
        ahead = round(0.01 * rate)
        by_rule = [
            int(peak)
            for peak, prominence in zip(peaks, about["prominences"], strict=True)
            if prominence >= 0.1 * x[peak] and x[peak : peak + ahead + 1].min() <= 0.9 * x[peak]
        ]
        found = analyse_pull(Trace(wave.seconds, wave.torques, None, "N·m"))
        assert [click.sample for click in found.clicks] == by_rule
        assert found.has(Code.NO_CLICK) == (not by_rule)
