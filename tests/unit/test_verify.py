"""Every way to tamper with a store is found, and the entry named."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest

from capture import command as c
from capture.errors import StoreDamaged, StoreError
from capture.ledger import tree
from capture.verify import verify
from tests.paper import GOOD_BORES
from tests.pipeline_bench import done, open_pipeline, pipeline, reading, ready


@pytest.fixture
async def store(tmp_store: Path) -> Path:
    """A finished store of a few dozen entries; the checkpoint is signed at its end."""
    async with pipeline(tmp_store) as bench:
        build = await ready(bench)
        bench.take([reading(digits) for digits in GOOD_BORES * 3])
        await done(bench.submit(c.Rework(build, "barrel", 2, "honed"), key="k"))
        bench.take([reading("0.014")])
        await done(bench.view(lambda _desk: None))
        last = json.loads(bench.archive.readings().items[-1])["seq"]
        await done(bench.submit(c.Void(last, "no"), key="v"))
    return tmp_store


def tamper(store: Path, *statements: tuple[str, tuple[object, ...]]) -> None:
    connection = sqlite3.connect(store / "ledger.db")
    for statement, values in statements:
        assert connection.execute(statement, values).rowcount != 0
    connection.commit()
    connection.close()


def entry(store: Path, seq: int) -> bytes:
    connection = sqlite3.connect(store / "ledger.db")
    (data,) = connection.execute("SELECT bytes FROM entry WHERE seq = ?", (seq,)).fetchone()
    connection.close()
    return bytes(data)


def press_seq(store: Path) -> int:
    return next(seq for seq in range(1, 99) if json.loads(entry(store, seq))["kind"] == "press")


def test_an_untouched_store_verifies(store: Path) -> None:
    report = verify(store)
    assert report.ok, report.problems
    assert report.counts["press"] == 13
    assert report.checkpoints == 1
    assert report.size == sum(report.counts.values())


def test_any_single_changed_byte_is_found_and_its_entry_named(store: Path) -> None:
    seq = press_seq(store)
    data = entry(store, seq)
    for at in range(0, len(data), 17):
        changed = bytearray(data)
        changed[at] ^= 1
        tamper(store, ("UPDATE entry SET bytes = ? WHERE seq = ?", (bytes(changed), seq)))
        problems = verify(store).problems
        assert (problems[0].seq, problems[0].code) == (seq, "changed")
    tamper(store, ("UPDATE entry SET bytes = ? WHERE seq = ?", (data, seq)))
    assert verify(store).ok


def test_changed_together_with_its_leaf_hash(store: Path) -> None:
    seq = press_seq(store)
    data = entry(store, seq).replace(b'"0.010"', b'"0.011"')
    leaf = tree.leaf_hash(data)
    tamper(store, ("UPDATE entry SET bytes = ?, leaf = ? WHERE seq = ?", (data, leaf, seq)))
    report = verify(store)
    assert [problem.code for problem in report.problems] == ["checkpoint"]
    assert "between 1 and" in report.problems[0].message


def test_missing_entry(store: Path) -> None:
    seq = press_seq(store)
    tamper(store, ("DELETE FROM entry WHERE seq = ?", (seq,)))
    report = verify(store)
    assert (report.problems[0].seq, report.problems[0].code) == (seq, "missing")


def test_reordered_entries(store: Path) -> None:
    one = press_seq(store)
    first, second = entry(store, one), entry(store, one + 2)
    for seq, data in ((one, second), (one + 2, first)):
        leaf = tree.leaf_hash(data)
        tamper(store, ("UPDATE entry SET bytes = ?, leaf = ? WHERE seq = ?", (data, leaf, seq)))
    codes = [(problem.seq, problem.code) for problem in verify(store).problems]
    assert (one, "reordered") in codes
    assert (one + 2, "reordered") in codes


def test_tail_cut_off(store: Path) -> None:
    size = verify(store).size
    tamper(store, ("DELETE FROM entry WHERE seq > ?", (size - 2,)))
    assert [problem.code for problem in verify(store).problems] == ["tail-missing"]
    with pytest.raises(StoreDamaged, match="tail is missing"):
        open_pipeline(store)


def test_tail_cut_off_with_its_checkpoint_is_found_only_by_whoever_holds_one(store: Path) -> None:
    connection = sqlite3.connect(store / "ledger.db")
    (held,) = connection.execute("SELECT note FROM checkpoint").fetchone()
    connection.close()
    size = verify(store).size
    # Whoever holds the disk can do this so that nothing on it shows it …
    tamper(
        store,
        ("DELETE FROM entry WHERE seq > ?", (size - 1,)),
        ("DELETE FROM checkpoint", ()),
        ("DELETE FROM record WHERE seq > ?", (size - 1,)),
        ("DELETE FROM idempotency WHERE key = 'v'", ()),
        (
            "UPDATE reading SET decision = press + 1, standing = (SELECT coalesce("
            "json_extract(CAST(bytes AS TEXT), '$.body.reason.code'),"
            " json_extract(CAST(bytes AS TEXT), '$.body.verdict.result'))"
            " FROM entry WHERE seq = press + 1)",
            (),
        ),
    )
    assert verify(store).ok
    # … and this is why checkpoints go out.
    report = verify(store, against=held)
    assert [problem.code for problem in report.problems] == ["tail-missing"]


def test_rewritten_decision(store: Path) -> None:
    """The bench's own key and disk, and a verdict turned: found by deciding again."""
    seq = press_seq(store) + 1
    data = entry(store, seq).replace(b'"result":"conforming"', b'"result":"nonconforming"')
    leaf = tree.leaf_hash(data)
    tamper(
        store,
        ("UPDATE entry SET bytes = ?, leaf = ? WHERE seq = ?", (data, leaf, seq)),
        ("DELETE FROM checkpoint", ()),
    )
    problems = verify(store).problems
    assert (problems[0].seq, problems[0].code) == (seq, "decision")
    assert "nonconforming" in problems[0].message


async def test_rewritten_decision_of_a_person(store: Path, tmp_path: Path) -> None:
    folder = tmp_path / "people"
    async with pipeline(folder) as bench:
        build = await ready(bench)
        bench.take([reading(digits) for digits in ("0.010", "9.0", "0.012", "0.011")])
        await done(bench.view(lambda _desk: None))
        seqs = [json.loads(item)["seq"] for item in bench.archive.readings().items]
        await done(bench.submit(c.Correct(seqs[0], "0.009", None, "misread")))
        await done(bench.submit(c.Place(seqs[1], build, "bores/3/top-a", "barrel 3")))
        await done(bench.submit(c.Void(seqs[2], "dirt")))
        await done(bench.submit(c.Assign(build, "plunger", 1, "plunger-2")))
        await done(bench.submit(c.SetOperator("Ann")))
    assert verify(folder).ok, verify(folder).problems
    connection = sqlite3.connect(folder / "ledger.db")
    people = [
        (seq, bytes(data))
        for seq, data in connection.execute("SELECT seq, bytes FROM entry ORDER BY seq")
        if b'"by":"person"' in data
    ]
    connection.close()
    assert len(people) == 3
    seq, data = people[0]
    forged = data.replace(b'"measured":"20.009"', b'"measured":"20.008"')
    assert forged != data
    values = (forged, tree.leaf_hash(forged), seq)
    tamper(
        folder,
        ("UPDATE entry SET bytes = ?, leaf = ? WHERE seq = ?", values),
        ("DELETE FROM checkpoint", ()),
    )
    problems = verify(folder).problems
    assert (problems[0].seq, problems[0].code) == (seq, "decision")
    assert "20.008" in problems[0].message


@pytest.mark.parametrize(
    ("statement", "table"),
    [
        ("UPDATE reading SET build = 'b1' WHERE press = (SELECT max(press) FROM reading)", "read"),
        ("DELETE FROM reading WHERE press = (SELECT max(press) FROM reading)", "reading"),
        ("UPDATE reading SET standing = 'conforming' WHERE standing = 'void'", "reading"),
        ("UPDATE reading SET operator = 'someone' WHERE press % 2 = 1", "reading"),
        ("UPDATE record SET name = 'x' WHERE kind = 'rework'", "record"),
        ("INSERT INTO clock_back SELECT max(press) FROM reading", "clock_back"),
        ("UPDATE shift SET operator = 'someone'", "shift"),
        ("DELETE FROM idempotency WHERE key = 'k'", "idempotency"),
    ],
)
def test_projection_that_the_entries_do_not_give(store: Path, statement: str, table: str) -> None:
    tamper(store, (statement, ()))
    (problem,) = verify(store).problems
    assert problem.code == "projection"
    assert problem.message.startswith(table)
    assert problem.seq is not None


def test_forged_checkpoint(store: Path) -> None:
    connection = sqlite3.connect(store / "ledger.db")
    (text,) = connection.execute("SELECT note FROM checkpoint").fetchone()
    connection.close()
    lines = text.split("\n")
    lines[1] = str(int(lines[1]) - 1)
    tamper(store, ("UPDATE checkpoint SET note = ?", ("\n".join(lines),)))
    assert [problem.code for problem in verify(store).problems] == ["checkpoint"]


def test_kept_node_hash(tmp_path: Path, store: Path) -> None:
    connection = sqlite3.connect(store / "ledger.db")
    connection.execute("INSERT INTO node VALUES (8, 0, ?)", (b"\0" * 32,))
    connection.commit()
    connection.close()
    assert [problem.code for problem in verify(store).problems] == ["missing"]


def test_another_benchs_checkpoint(store: Path, tmp_path: Path) -> None:
    other = open_pipeline(tmp_path / "other")
    other.stop()
    connection = sqlite3.connect(tmp_path / "other" / "ledger.db")
    (text,) = connection.execute("SELECT note FROM checkpoint").fetchone()
    connection.close()
    report = verify(store, against=text)
    assert [problem.code for problem in report.problems] == ["checkpoint"]


def test_no_store_and_no_database(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="no ledger"):
        verify(tmp_path)
    (tmp_path / "ledger.db").write_bytes(b"not a database at all, but quite long" * 99)
    report = verify(tmp_path)
    assert [problem.code for problem in report.problems] == ["database"]


def test_progress_is_told(store: Path) -> None:
    told: list[tuple[str, int, int]] = []
    report = verify(store, progress=lambda *news: told.append(news))
    assert {name for name, _, _ in told} == {"tree", "decisions"}
    assert told[-1][1:] == (report.size, report.size)
