"""Real published measurements, press by press: bytes on a pseudo-terminal, driver, placement,
check, ledger, and back over the HTTP interface.

The data are 25 samples of 5 inside diameters of piston rings (``data/piston_rings.csv``, source in
its head). Expected:

- row means and standard deviations as printed for samples 1 to 16 (a page printing Montgomery's
  Table 6.3; checked against the readings as they come back);
- centre lines and limits of the X-bar and R charts: grand mean 74.0012, mean range 0.02324, limits
  74.0146 and 73.9878, upper range limit 0.0491 (data as seen; mean range from memory of Montgomery,
  *Introduction to Statistical Quality Control*; limits from the tabulated A2 = 0.577 and
  D4 = 2.114 for samples of 5).
"""

from __future__ import annotations

import asyncio
import csv
import os
import statistics
import tty
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import httpx
import pytest

from capture.verify import verify
from tests.running import client, opened_build, service

DATA = Path(__file__).with_name("data") / "piston_rings.csv"
A2, D4 = 0.577, 2.114
ROW_MEANS = [
    *(74.010, 74.001, 74.008, 74.003, 74.003, 73.996, 74.000, 73.997),
    *(74.004, 73.998, 73.994, 74.001, 73.998, 73.990, 74.006, 73.997),
]
ROW_DEVIATIONS = [
    *(0.0148, 0.0075, 0.0147, 0.0091, 0.0122, 0.0087, 0.0055, 0.0123),
    *(0.0055, 0.0063, 0.0029, 0.0042, 0.0105, 0.0153, 0.0073, 0.0078),
]
BENCH = """
title = "Replay of published diameters"

[[instrument]]
id = "ring-gauge"
kind = "bore-gauge"
port = "{port}"
profile = "decimal-line"
unit = "mm"
resolution = "0.001"
"""
SPEC = """
format = 1
id = "piston-rings"
title = "Published piston-ring diameters"
revision = "1"
invented = true
notice = "The diameters are published; these limits are invented to have something to check."

[decision]
rule = "simple"
repeat_window_ms = 0

[[part]]
id = "ring"
title = "Piston ring"
count = 25
position = "sample"

[[characteristic]]
id = "inside-diameter"
title = "Inside diameter"
part = "ring"
unit = "mm"
nominal_size = "74.000"
lower_limit_deviation = "-0.025"
upper_limit_deviation = "+0.025"
axes = ["ring-1", "ring-2", "ring-3", "ring-4", "ring-5"]
instruments = ["bore-gauge"]

[[operation]]
measure = "inside-diameter"
"""


def published() -> list[list[str]]:
    """25 samples of 5, the digits as printed."""
    lines = [line for line in DATA.read_text("utf-8").splitlines() if not line.startswith("#")]
    return [row[1:] for row in list(csv.reader(lines))[1:]]


@pytest.fixture
def terminal() -> Iterator[tuple[int, str]]:
    """A raw pseudo-terminal: the gauge's end and the port's name."""
    gauge, port = os.openpty()
    tty.setraw(port)
    yield gauge, os.ttyname(port)
    os.close(gauge)
    os.close(port)


async def replay(
    http: httpx.AsyncClient, gauge: int, samples: list[list[str]]
) -> list[dict[str, Any]]:
    """Presses SEND once for every diameter, each after the one before is stored."""
    readings: list[dict[str, Any]] = []
    after = 0
    for digits in (value for sample in samples for value in sample):
        os.write(gauge, f"+{digits} mm\r\n".encode())
        for _ in range(2000):
            page = (await http.get(f"/v1/readings?after={after}&limit=10")).json()
            after = page["next"]
            if page["readings"]:
                break
            await asyncio.sleep(0.002)
        (reading,) = page["readings"]
        readings.append(reading)
    return readings


async def test_published_diameters_come_back_with_their_published_charts(
    tmp_path: Path, terminal: tuple[int, str]
) -> None:
    gauge, port = terminal
    samples = published()
    assert [len(sample) for sample in samples] == [5] * 25
    (tmp_path / "bench.toml").write_text(BENCH.format(port=port), "utf-8")
    async with service(tmp_path) as listening, client(listening) as http:
        build = await opened_build(http, SPEC)
        await _ready(http)
        await replay(http, gauge, samples)
        back = (await http.get(f"/v1/readings?build={build}&limit=500")).json()["readings"]
        state = (await http.get(f"/v1/builds/{build}")).json()
    assert state["steps_done"] == 125
    assert [reading["value"] for reading in back] == [v for sample in samples for v in sample]
    assert [reading["placement"]["number"] for reading in back] == [
        number for number in range(1, 26) for _ in range(5)
    ]
    _check_charts(back)
    _check_verdicts(back)
    report = verify(tmp_path / "store")
    assert report.ok, report.problems


async def _ready(http: httpx.AsyncClient) -> None:
    for _ in range(2000):
        (gauge,) = (await http.get("/v1/instruments")).json()["instruments"]
        if gauge["state"] == "ready":
            return
        await asyncio.sleep(0.005)
    pytest.fail("the gauge's port did not become ready")


def _check_charts(back: list[dict[str, Any]]) -> None:
    rows = [[float(r["verdict"]["measured"]) for r in back[at : at + 5]] for at in range(0, 125, 5)]
    means = [statistics.fmean(row) for row in rows]
    deviations = [statistics.stdev(row) for row in rows]
    for mean, printed in zip(means, ROW_MEANS, strict=False):
        assert mean == pytest.approx(printed, abs=0.00051)
    for deviation, printed in zip(deviations, ROW_DEVIATIONS, strict=False):
        assert deviation == pytest.approx(printed, abs=0.000051)
    ranges = [max(row) - min(row) for row in rows]
    grand, mean_range = statistics.fmean(means), statistics.fmean(ranges)
    assert grand == pytest.approx(74.0012, abs=0.00005)
    assert mean_range == pytest.approx(0.02324, abs=0.000005)
    assert grand + A2 * mean_range == pytest.approx(74.0146, abs=0.00005)
    assert grand - A2 * mean_range == pytest.approx(73.9878, abs=0.00005)
    assert D4 * mean_range == pytest.approx(0.0491, abs=0.00005)


def _check_verdicts(back: list[dict[str, Any]]) -> None:
    for reading in back:
        inside = abs(Decimal(reading["value"]) - 74) <= Decimal("0.025")
        assert reading["verdict"]["result"] == ("conforming" if inside else "nonconforming")
        assert "uncertainty not established" in reading["verdict"]["notes"]
    # Two published diameters are beyond ±0.025: 74.030 of sample 1 and 73.967 of sample 14.
    outside = [r["value"] for r in back if r["verdict"]["result"] == "nonconforming"]
    assert outside == ["74.030", "73.967"]
