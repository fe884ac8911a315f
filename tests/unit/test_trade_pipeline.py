"""What the trade adds, through the real pipeline and store: traces kept and proved, zero sets that
outlive a restart, an old store opened anew. The engine is invented."""

from __future__ import annotations

import asyncio
import sqlite3
from pathlib import Path
from typing import Any

import orjson
import pytest

from capture import command as c
from capture.ledger.search import Filters
from capture.ledger.store import DATABASE
from capture.pulls import pull_of
from capture.trace.samples import Written
from capture.verify import verify
from simulators.waveforms import Sensor, pull, tightening
from tests.pipeline_bench import done, open_pipeline, pipeline, reading
from tests.unit.twin import BORES, SPEC


def trace(torque: float, kind: str = "click") -> Written:
    """An invented pull at 1 kHz, in tenths of a N·m."""
    wave = pull(tightening(kind, torque), Sensor(rate=1000.0), "a pull")
    return Written(
        [f"{at:.3f}" for at in wave.seconds], [f"{each:.1f}" for each in wave.torques], None, "N·m"
    )


async def opened(made: Any) -> str:
    known = await done(made.submit(c.AddSpec(SPEC, "engine.toml")))
    return f"b{(await done(made.submit(c.OpenBuild(known.body['hash'], 'One')))).seq}"


async def settled(made: Any, size: int) -> None:
    """Waits until the ledger has so many entries."""
    deadline = asyncio.get_running_loop().time() + 20
    while made.size < size:
        assert asyncio.get_running_loop().time() < deadline
        await asyncio.sleep(0.01)


async def press(made: Any, *digits: str, instrument: str = "bore", unit: str = "mm") -> None:
    for each in digits:
        size = made.size
        made.take([reading(each, instrument, unit)])
        await settled(made, size + 2)


async def test_a_pull_is_kept_with_its_trace_and_verified(tmp_path: Path) -> None:
    store = tmp_path / "store"
    async with pipeline(store) as made:
        build = await opened(made)
        said = await done(made.submit(pull_of("wrench", trace(20.0))))
        reading_ = said.body
        assert reading_["trace"]["samples"] == len(trace(20.0).torque)
        assert abs(float(reading_["value"]) - 20.0) < 1.0
        assert reading_["trace"]["found"]["kind"] == "pull"
        digest = reading_["trace"]["sha256"]
        assert made.archive.blob(digest) is not None
        assert build
    report = verify(store)
    assert report.problems == []
    assert report.counts["traces"] == 1


@pytest.mark.parametrize("harm", ["missing", "changed"])
async def test_a_trace_that_is_not_what_its_press_cites_is_found(tmp_path: Path, harm: str) -> None:
    store = tmp_path / "store"
    async with pipeline(store) as made:
        await opened(made)
        first = await done(made.submit(pull_of("wrench", trace(20.0))))
        other = pull_of("wrench", trace(31.0))
    with sqlite3.connect(store / DATABASE) as connection:
        if harm == "missing":
            connection.execute("DELETE FROM blob")
        else:
            connection.execute("UPDATE blob SET data = ?", (other.blob,))
    connection.close()
    report = verify(store)
    assert [problem.code for problem in report.problems] == [f"trace-{harm}"]
    assert str(first.seq) in report.problems[0].message


async def test_a_pull_past_the_click_stands_for_what_the_fastener_got(tmp_path: Path) -> None:
    async with pipeline(tmp_path / "store") as made:
        await opened(made)
        said = await done(made.submit(pull_of("wrench", trace(50.0, "over-pull"))))
        found = said.body["trace"]["found"]
        assert "over-pull" in found["codes"]
        assert float(said.body["value"]) > float(found["click"])


async def test_a_drift_found_after_a_restart_marks_what_came_before_it(tmp_path: Path) -> None:
    from decimal import Decimal

    store = tmp_path / "store"
    async with pipeline(store) as made:
        build = await opened(made)
        setting = c.SetGauge("bore", "ring", Decimal("80.000"), "mm", Decimal("0.0005"), Decimal(2))
        await done(made.submit(setting))
        await press(made, "20.0", instrument="thermometer", unit="°C")
        await press(made, "0.000", *BORES)
    made = open_pipeline(store)
    made.start(asyncio.get_running_loop())
    try:
        await press(made, *BORES)
        size = made.size
        made.take([reading("0.004")])
        await settled(made, size + 2 + 8)
        marked = [
            orjson.loads(one)
            for one in made.archive.readings(filters=Filters(build=build), limit=50).items
            if orjson.loads(one)["decided_by"] == "zero"
        ]
        assert len(marked) == 8
        assert {one["verdict"]["result"] for one in marked} == {"undecided"}
        assert {one["drift"]["drift"] for one in marked} == {"0.004"}
        holds = await done(
            made.view(lambda desk: len(desk.build(build).works["measure-bore"].holds))
        )
        assert holds >= 8
    finally:
        await asyncio.to_thread(made.stop)
    assert verify(store).problems == []


async def test_an_announced_zero_check_outlives_a_restart(tmp_path: Path) -> None:
    from decimal import Decimal

    store = tmp_path / "store"
    async with pipeline(store) as made:
        await opened(made)
        setting = c.SetGauge("bore", "ring", Decimal("80.000"), "mm", Decimal("0.0005"), Decimal(2))
        await done(made.submit(setting))
        await press(made, "0.010")
        await done(made.submit(c.ExpectZero("bore")))
    made = open_pipeline(store)
    made.start(asyncio.get_running_loop())
    try:
        await press(made, "0.001")
        newest = orjson.loads(made.archive.readings(limit=50).items[-1])
        assert newest["placement"]["reason"]["code"] == "zero-check"
        assert newest["zero"]["readings"] == 1
    finally:
        await asyncio.to_thread(made.stop)
    assert verify(store).problems == []


async def test_a_store_of_the_first_tables_is_opened_and_gains_what_is_new(tmp_path: Path) -> None:
    store = tmp_path / "store"
    async with pipeline(store) as made:
        await opened(made)
    with sqlite3.connect(store / DATABASE) as connection:
        connection.execute("DROP TABLE blob")
        connection.execute("PRAGMA user_version = 1")
    connection.close()
    async with pipeline(store) as made:
        said = await done(made.submit(pull_of("wrench", trace(20.0))))
        assert made.archive.blob(said.body["trace"]["sha256"]) is not None
    assert verify(store).problems == []
