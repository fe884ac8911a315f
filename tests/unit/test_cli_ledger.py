"""The commands that read a store: verify, export."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import httpx
import pytest

from tests.served import ROOT, command, run, served

pytestmark = pytest.mark.timeout(120)


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """A store with two readings in it, closed."""
    with served(tmp_path) as up, httpx.Client(base_url=up["url"], timeout=30) as http:
        for value in ("25.000", "25.001"):
            body = {"instrument": "mic-1", "value": value, "unit": "mm"}
            http.post("/v1/readings", json=body).raise_for_status()
    return tmp_path / "store"


def test_a_reader_that_goes_away_is_no_error(store: Path) -> None:
    process = subprocess.Popen(
        command("export", str(store)), stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT
    )
    assert process.stdout is not None
    process.stdout.close()
    process.stdout = None
    _, told = process.communicate(timeout=30)
    assert b"Traceback" not in told


def test_verify_finds_a_whole_store_whole(store: Path) -> None:
    said = run("verify", str(store), "--json")
    assert said.returncode == 0, said.stdout
    assert json.loads(said.stdout)["ok"] is True


def test_verify_names_the_entry_that_was_changed(store: Path) -> None:
    import sqlite3
    from contextlib import closing

    with closing(sqlite3.connect(store / "ledger.db")) as database, database:
        (seq,) = database.execute("SELECT max(press) FROM reading").fetchone()
        (data,) = database.execute("SELECT bytes FROM entry WHERE seq = ?", (seq,)).fetchone()
        changed = bytes(data).replace(b'"25.001"', b'"25.009"')
        assert changed != data
        database.execute("UPDATE entry SET bytes = ? WHERE seq = ?", (changed, seq))
    said = run("verify", str(store), "--json")
    assert said.returncode == 1
    assert seq in {problem["seq"] for problem in json.loads(said.stdout)["problems"]}


def test_verify_against_a_checkpoint_kept_elsewhere(tmp_path: Path) -> None:
    with served(tmp_path) as up, httpx.Client(base_url=up["url"], timeout=30) as http:
        (tmp_path / "kept").write_text(http.get("/v1/ledger/checkpoint").text, "utf-8")
        body = {"instrument": "mic-1", "value": "25.000", "unit": "mm"}
        http.post("/v1/readings", json=body).raise_for_status()
    said = run("verify", str(tmp_path / "store"), "--against", str(tmp_path / "kept"), "--json")
    assert said.returncode == 0, said.stdout + said.stderr
    other = tmp_path / "other"
    other.mkdir()
    with served(other):
        pass
    said = run("verify", str(other / "store"), "--against", str(tmp_path / "kept"), "--json")
    assert said.returncode == 1


def test_verify_and_export_of_nothing(tmp_path: Path) -> None:
    for name in ("verify", "export"):
        said = run(name, str(tmp_path / "none"))
        assert said.returncode == 2
        assert "Mend: give the folder" in said.stderr
        assert "Traceback" not in said.stderr


def test_verify_says_what_it_verified(store: Path) -> None:
    said = run("verify", str(store))
    assert said.returncode == 0
    report = json.loads(run("verify", str(store), "--json").stdout)
    first, second, counts = said.stdout.splitlines()
    assert first == f"verified: {report['size']} entries, root {report['root']}"
    # How many are signed depends on how quickly the presses came.
    count = report["checkpoints"]
    assert second == f"{count} signed checkpoint{'' if count == 1 else 's'} in the store: all fit."
    assert "2 press" in counts


def test_verify_says_that_a_checkpoint_is_continued(tmp_path: Path) -> None:
    with served(tmp_path) as up, httpx.Client(base_url=up["url"], timeout=30) as http:
        kept = http.get("/v1/ledger/checkpoint").text
        body = {"instrument": "mic-1", "value": "25.000", "unit": "mm"}
        http.post("/v1/readings", json=body).raise_for_status()
    said = run("verify", str(tmp_path / "store"), "--against", "-", given=kept.encode())
    assert said.returncode == 0
    size = int(kept.splitlines()[1])
    assert f"continues the checkpoint given: its first {size} entries are" in said.stdout


def test_verify_says_what_it_found_where_it_says_that_it_did_not(store: Path) -> None:
    (store / "ledger.db").write_bytes(b"no database at all, but long enough to be read" * 200)
    said = run("verify", str(store))
    assert said.returncode == 1
    assert said.stdout.startswith("NOT VERIFIED: The database itself is damaged: ")


@pytest.mark.parametrize("text", [b"", b"not a checkpoint\n", b"\xff\xfe", b"a\nb\nc\n\nd\n"])
def test_verify_against_what_is_no_checkpoint(store: Path, tmp_path: Path, text: bytes) -> None:
    (tmp_path / "kept").write_bytes(text)
    said = run("verify", str(store), "--against", str(tmp_path / "kept"))
    assert said.returncode == 2
    assert "kept is no checkpoint: " in said.stderr
    assert "Mend: " in said.stderr
    assert said.stdout == ""


@pytest.mark.parametrize("length", [0, 100, 4096])
def test_export_of_a_damaged_ledger_is_one_line(store: Path, length: int) -> None:
    data = (store / "ledger.db").read_bytes()
    (store / "ledger.db").write_bytes(data[:length] if length else b"garbage" * 1000)
    said = run("export", str(store))
    assert said.returncode == 2
    assert said.stderr.startswith("error: the ledger cannot be read: ")
    assert said.stderr.count("\n") == 1
    assert "Mend: " in said.stderr


def test_export_gives_entries_byte_for_byte(store: Path) -> None:
    import hashlib
    import sqlite3
    from contextlib import closing

    said = subprocess.run(
        command("export", str(store), "--format", "jsonl"),
        capture_output=True,
        cwd=ROOT,
        timeout=30,
    )
    assert said.returncode == 0, said.stderr
    lines = said.stdout.splitlines()
    with closing(sqlite3.connect(store / "ledger.db")) as database:
        leaves = [row[0] for row in database.execute("SELECT leaf FROM entry ORDER BY seq")]
    # RFC 9162 §2.1.1: a leaf's hash is SHA-256 over 0x00 and the entry.
    assert [hashlib.sha256(b"\x00" + line).digest() for line in lines] == leaves
