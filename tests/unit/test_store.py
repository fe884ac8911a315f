"""The store's file: opened, locked, migrated, refused; and what is told while it cannot write."""

from __future__ import annotations

import json
import sqlite3
import stat
from pathlib import Path
from typing import Any

import pytest

from capture import command as c
from capture import view
from capture.errors import NotStored, OutcomeUnknown, StoreDamaged, StoreError, StoreInUse
from capture.ledger import schema
from capture.ledger.store import Store
from capture.verify import verify
from tests.paper import GOOD_BORES
from tests.pipeline_bench import done, open_pipeline, pipeline, reading, ready
from tests.support import eventually_async


def test_second_writer_is_refused_and_the_lock_ends_with_the_first(tmp_store: Path) -> None:
    first = Store(tmp_store)
    with pytest.raises(StoreInUse, match="--store"):
        Store(tmp_store)
    first.close()
    Store(tmp_store).close()


def test_only_its_owner_reads_the_key(tmp_store: Path) -> None:
    Store(tmp_store).close()
    assert stat.S_IMODE((tmp_store / "bench.key").stat().st_mode) == 0o600


def test_ledger_without_its_key_is_not_continued(tmp_store: Path) -> None:
    Store(tmp_store).close()
    (tmp_store / "bench.key").unlink()
    with pytest.raises(StoreDamaged, match=r"no bench\.key"):
        Store(tmp_store)
    assert not (tmp_store / "bench.key").exists()


def test_newer_tables_and_other_files_are_refused(tmp_store: Path) -> None:
    Store(tmp_store).close()
    connection = sqlite3.connect(tmp_store / "ledger.db")
    connection.execute(f"PRAGMA user_version = {len(schema.STEPS) + 1}")
    connection.close()
    with pytest.raises(StoreDamaged, match="Use the newer program"):
        Store(tmp_store)
    connection = sqlite3.connect(tmp_store / "ledger.db")
    connection.execute("PRAGMA user_version = 1")
    connection.execute("PRAGMA application_id = 7")
    connection.close()
    with pytest.raises(StoreDamaged, match="not a witnessmark store"):
        Store(tmp_store)


def test_steps_are_applied_one_by_one_and_a_failing_one_not_at_all(
    tmp_store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Store(tmp_store).close()

    def second(connection: sqlite3.Connection) -> None:
        connection.execute("CREATE TABLE later(x)")

    def third(connection: sqlite3.Connection) -> None:
        connection.execute("CREATE TABLE latest(x)")
        raise sqlite3.OperationalError("no more")

    monkeypatch.setattr(schema, "STEPS", (*schema.STEPS, second, third))
    with pytest.raises(StoreError, match="no more"):
        Store(tmp_store)
    connection = sqlite3.connect(tmp_store / "ledger.db")
    names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
    version = connection.execute("PRAGMA user_version").fetchone()[0]
    connection.close()
    assert "later" in names
    assert "latest" not in names
    assert version == len(schema.STEPS) - 1


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(StoreError, match="cannot be made"):
        Store(tmp_path / "file" / "store")


def test_garbage_is_no_ledger(tmp_store: Path) -> None:
    Store(tmp_store).close()
    (tmp_store / "ledger.db").write_bytes(b"garbage" * 1000)
    with pytest.raises(StoreError, match="cannot be opened"):
        Store(tmp_store)


async def test_projections_can_be_made_anew(tmp_store: Path) -> None:
    async with pipeline(tmp_store) as bench:
        await ready(bench)
        bench.take([reading(digits) for digits in GOOD_BORES])
        await done(bench.submit(c.TypeReading("mic", "19.980", "mm"), key="k"))
    connection = sqlite3.connect(tmp_store / "ledger.db")
    connection.execute("DELETE FROM reading WHERE press % 4 = 1")
    connection.execute("UPDATE record SET name = 'x'")
    connection.execute("DELETE FROM idempotency")
    connection.commit()
    connection.close()
    assert not verify(tmp_store).ok
    store = Store(tmp_store)
    store.rebuild_projections()
    store.close()
    assert verify(tmp_store).ok


class Breaking:
    """Stands in for a store's connection and fails commits while ``broken``.

    ``after`` the write: then the entries are on disk although the commit was said to fail.
    """

    def __init__(self, real: Any, after: bool) -> None:
        self.real = real
        self.after = after

    def execute(self, statement: str, *arguments: Any) -> Any:
        if statement == "COMMIT":
            if self.after:
                self.real.execute(statement)
            else:
                self.real.execute("ROLLBACK")
            raise sqlite3.OperationalError("disk I/O error (injected)")
        return self.real.execute(statement, *arguments)

    def close(self) -> None:
        self.real.close()


@pytest.mark.parametrize("after", [True, False])
async def test_commit_that_fails_once_is_looked_into_and_settled(
    tmp_store: Path, after: bool
) -> None:
    async with pipeline(tmp_store) as bench:
        await ready(bench)
        store = bench._store
        store._connection = Breaking(store._connection, after)  # type: ignore[assignment] # for it
        before = bench.size
        bench.take([reading("0.010")])
        await eventually_async(lambda: bench.size == before + 2, "the press is stored")
        await done(bench.view(view.builds))
        (item,) = bench.archive.readings().items
        shown = json.loads(item)
        assert shown["placement"]["step"] == "bores/1/top-a"
        # On disk after all: as it was. Not on disk: written again, and said to be late.
        assert (shown["late"] is None) == after
        assert bench.condition().state == "storing"
    report = verify(tmp_store)
    assert report.ok, report.problems
    assert report.counts["press"] == 1


async def test_what_arrives_while_an_unknown_outcome_is_looked_into_is_kept_too(
    tmp_store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first press was on disk after all; those that came during the look must follow it."""
    async with pipeline(tmp_store) as bench:
        await ready(bench)
        store = bench._store
        store._connection = Breaking(store._connection, True)  # type: ignore[assignment] # for it
        real = Store.reopen
        with monkeypatch.context() as stuck:

            def fails(_: Store) -> int:
                raise StoreError("cannot be looked at yet (injected)")

            stuck.setattr(Store, "reopen", fails)
            bench.take([reading("0.010")])
            await eventually_async(
                lambda: bench.condition().state == "not_storing", "nothing is stored"
            )
            bench.take([reading("0.011"), reading("0.012")])
            await eventually_async(lambda: bench.condition().held == 3, "three presses are held")
        assert Store.reopen is real
        await eventually_async(lambda: bench.condition().state == "storing", "it stores again")
        await done(bench.view(view.builds))
        shown = [json.loads(item) for item in bench.archive.readings().items]
        assert [item["value"] for item in shown] == ["0.010", "0.011", "0.012"]
        assert [item["late"] is None for item in shown] == [True, False, False]
        assert [item["placement"]["step"] for item in shown] == [
            "bores/1/top-a", "bores/1/top-b", "bores/1/bottom-a",
        ]  # fmt: skip
    assert verify(tmp_store).ok


async def test_request_whose_commit_failed_is_not_acknowledged(tmp_store: Path) -> None:
    async with pipeline(tmp_store) as bench:
        await ready(bench)
        store = bench._store
        store._connection = Breaking(store._connection, False)  # type: ignore[assignment] # for it
        typed = c.TypeReading("mic", "19.980", "mm")
        with pytest.raises(NotStored):
            await done(bench.submit(typed, key="k"))
        again = await done(bench.submit(typed, key="k"))
        assert again.created
    assert verify(tmp_store).counts["press"] == 1


async def test_while_nothing_can_be_stored_presses_are_held_and_requests_told(
    tmp_store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with pipeline(tmp_store) as bench:
        build = await ready(bench)
        listener = bench.stream.subscribe()
        with monkeypatch.context() as full:

            def fails(*_: object) -> None:
                raise OutcomeUnknown("database or disk is full (injected)")

            full.setattr(Store, "commit", fails)
            bench.take([reading("0.010")])
            await eventually_async(
                lambda: bench.condition().state == "not_storing",
                "it is said that nothing is stored",
            )
            bench.take([reading("0.011"), reading("0.012")])
            with pytest.raises(NotStored):
                await done(bench.submit(c.TypeReading("mic", "19.980", "mm")))
            state = await done(bench.view(lambda desk: view.build(desk, build)))
            assert state["steps_done"] == 1
            await eventually_async(lambda: bench.condition().held == 3, "three presses are held")
            assert bench.archive.readings().items == []
        await eventually_async(lambda: bench.condition().state == "storing", "it stores again")
        await done(bench.view(view.builds))
        shown = [json.loads(item) for item in bench.archive.readings().items]
        assert [item["value"] for item in shown] == ["0.010", "0.011", "0.012"]
        assert all(item["late"] > item["received_at"] for item in shown)
        names = [event.name for event in await listener.next()]
        listener.close()
        assert names[0] == "condition"
        assert names[-3:] == ["reading"] * 3
    report = verify(tmp_store)
    assert report.ok, report.problems


async def test_stopping_while_nothing_can_be_stored_ends(
    tmp_store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import asyncio

    monkeypatch.setattr("capture.writer.RETRY_LONGEST_S", 0.2)
    bench = open_pipeline(tmp_store)
    bench.start(asyncio.get_running_loop())
    await ready(bench)

    def fails(*_: object) -> None:
        raise OutcomeUnknown("still full (injected)")

    monkeypatch.setattr(Store, "commit", fails)
    bench.take([reading("0.010")])
    await eventually_async(lambda: bench.condition().state == "not_storing", "nothing is stored")
    await asyncio.wait_for(asyncio.to_thread(bench.stop), 20)
    assert verify(tmp_store).ok
