"""Bugs found by others between intake and disk; each would fail before its mend."""

from __future__ import annotations

import asyncio
import json
import sqlite3
import threading
from pathlib import Path

import pytest

from capture import command as c
from capture import view
from capture.archive import Archive
from capture.errors import StoreDamaged, StoreError
from capture.ledger.store import Store
from capture.reading import Reading
from capture.verify import verify
from tests.paper import GOOD_BORES
from tests.pipeline_bench import CLOCK, done, open_pipeline, pipeline, reading, ready
from tests.support import eventually_async
from tests.unit.test_store import Breaking


async def test_a_repeated_press_is_known_after_a_commit_that_failed(tmp_store: Path) -> None:
    async with pipeline(tmp_store) as bench:
        await ready(bench)
        bench.take([reading("0.010")])
        await done(bench.view(view.builds))
        store = bench._store
        store._connection = Breaking(store._connection, False)  # type: ignore[assignment] # for it
        bench.take([reading("0.010", "mic")])
        await done(bench.view(view.builds))
        bench.take([reading("0.010")])
        await done(bench.view(view.builds))
        shown = [json.loads(item) for item in bench.archive.readings().items]
        assert shown[-1]["placement"]["reason"]["code"] == "repeated-press"
    report = verify(tmp_store)
    assert report.ok, report.problems


async def test_one_item_nobody_can_record_costs_neither_the_others_nor_the_writer(
    tmp_store: Path, caplog: pytest.LogCaptureFixture
) -> None:
    async with pipeline(tmp_store) as bench:
        build = await ready(bench)
        broken = Reading("bore", b"\xff", "0.01x", "mm", (), CLOCK.now())
        odd = Reading("bore", b"\xfe", "0.012", "\ud800", (), CLOCK.now())
        bench.take([reading("0.010"), broken, odd, reading("0.011")])
        state = await done(bench.view(lambda desk: view.build(desk, build)))
        assert state["steps_done"] == 3
        kinds = [json.loads(item) for item in bench.archive.entries(limit=500).items]
        kept = [entry["body"] for entry in kinds if entry["kind"] == "undecodable"]
        raws = {body["raw"] for body in kept} | {
            entry["body"]["raw"] for entry in kinds if entry["kind"] == "press"
        }
        assert {"ff", "fe"} <= raws
        assert bench.condition().state == "storing"
    assert caplog.text


async def test_a_damaged_entry_is_said_and_nothing_is_added(tmp_store: Path) -> None:
    async with pipeline(tmp_store) as bench:
        await ready(bench)
        bench.take([reading(digits) for digits in GOOD_BORES])
    connection = sqlite3.connect(tmp_store / "ledger.db")
    seq, data = connection.execute(
        "SELECT entry.seq, bytes FROM record JOIN entry USING (seq) WHERE kind = 'spec'"
    ).fetchone()
    changed = bytes(data).replace(b"20.000", b"21.000", 1)
    connection.execute("UPDATE entry SET bytes = ? WHERE seq = ?", (changed, seq))
    connection.commit()
    connection.close()
    async with pipeline(tmp_store) as bench:
        await eventually_async(lambda: bench.condition().state == "not_storing", "it is said")
        assert f"Entry {seq}" in bench.condition().detail
        size = bench.size
        with pytest.raises(StoreError, match="verify"):
            await done(bench.submit(c.SetOperator("Ann")))
        with pytest.raises(StoreError):
            await done(bench.view(view.builds))
        assert bench.take([reading("0.010")]) is False
        assert bench.size == size
    archive = Archive(tmp_store)
    with pytest.raises(StoreDamaged):
        archive.records()
    archive.close()
    assert [problem.seq for problem in verify(tmp_store).problems] == [seq]


async def test_a_reader_does_not_keep_a_store_from_recovering(tmp_store: Path) -> None:
    async with pipeline(tmp_store) as bench:
        await ready(bench)
        reader = sqlite3.connect(tmp_store / "ledger.db", isolation_level=None)
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM entry").fetchone()
        store = bench._store
        store._connection = Breaking(store._connection, False)  # type: ignore[assignment] # for it
        bench.take([reading("0.010")])
        await done(bench.view(view.builds))
        reader.close()
        assert len(bench.archive.readings().items) == 1
        assert bench.condition().state == "storing"
    assert verify(tmp_store).ok


async def test_closing_waits_for_whoever_reads(tmp_store: Path) -> None:
    made = open_pipeline(tmp_store)
    made.start(asyncio.get_running_loop())
    await ready(made)
    made.take([reading(f"0.{number:03d}") for number in range(400)])
    await done(made.view(view.builds))
    stop = threading.Event()
    ended: list[str] = []

    def read() -> None:
        while not stop.is_set():
            try:
                made.archive.readings(limit=400)
            except StoreError as error:
                ended.append(str(error))
                return

    threads = [threading.Thread(target=read) for _ in range(3)]
    for thread in threads:
        thread.start()
    await asyncio.sleep(0.05)
    await asyncio.to_thread(made.stop)
    for thread in threads:
        thread.join(10)
    stop.set()
    assert ended == ["The store is closed."] * 3


async def test_full_intake_lets_its_drivers_go_on(
    tmp_store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("capture.pipeline.FULL_AT", 50)
    release = threading.Event()
    real = Store.commit

    def slowly(store: Store, *arguments: object) -> None:
        release.wait(10)
        real(store, *arguments)  # type: ignore[arg-type] # passed on as they are

    async with pipeline(tmp_store) as bench:
        await ready(bench)
        monkeypatch.setattr(Store, "commit", slowly)
        assert bench.take([reading(f"0.0{i:03d}") for i in range(60)]) is False
        looks = [bench.view(view.builds) for _ in range(5)]
        release.set()
        await asyncio.wait_for(bench.room(), 10)
        for look in looks:
            await done(look)
