"""A bundle taken home: whole as it comes, and whatever is changed in it is found, by a program of
standard Python and one signature library that knows nothing of ours."""

from __future__ import annotations

import ast
import io
import json
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest

from tests.contract import trade
from tests.contract.trade import TORQUE, Bench
from tests.running import client, opened_build, service, typed
from tests.served import run

SCRIPT = Path(__file__).parents[2] / "capture/takehome/check_bundle.py"


def unpacked(data: bytes, folder: Path) -> Path:
    with zipfile.ZipFile(io.BytesIO(data)) as bundle:
        assert bundle.testzip() is None
        bundle.extractall(folder)
    return folder


def checked(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Runs what came in the bundle, where nothing of ours can be imported."""
    return subprocess.run(
        [sys.executable, "-I", str(folder / "check_bundle.py"), *words],
        cwd=folder,
        capture_output=True,
        encoding="utf-8",
        timeout=30,
    )


@pytest.fixture
async def taken(tmp_path: Path) -> Path:
    """The bundle of a build with a torque trace, over HTTP; the store stays in tmp_path."""
    (tmp_path / "bench.toml").write_text(trade.BENCH, "utf-8")
    async with service(tmp_path) as listening, client(listening) as http:
        bench = Bench(http)
        pull = {"instrument": "adapter-1", "unit": "N·m", "interval_us": 10_000, "torque": TORQUE}
        seq = (await bench.post("/v1/pulls", **pull))["seq"]
        kept = (await http.get("/v1/ledger/checkpoint")).text
        (tmp_path / "kept.txt").write_text(kept, "utf-8")
        build = await opened_build(http)
        await typed(http, "25.000")
        since = kept.splitlines()[1]
        asked = {"entries": str(seq), "since": since}
        answer = await http.get("/v1/ledger/bundle", params=asked)
        assert answer.status_code == 200
        assert answer.headers["content-type"] == "application/zip"
        unpacked(answer.content, tmp_path / "one")
        whole = await http.get("/v1/ledger/bundle", params={"build": build})
        return unpacked(whole.content, tmp_path / "build")


def test_it_is_short_and_shares_no_code_with_us() -> None:
    text = SCRIPT.read_text("utf-8")
    assert len(text.splitlines()) < 150
    names = {
        (node.names[0].name if isinstance(node, ast.Import) else node.module or "").split(".")[0]
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.Import | ast.ImportFrom)
    }
    assert names - set(sys.stdlib_module_names) == {"cryptography"}


async def test_what_was_asked_for_comes_with_what_it_rests_on(taken: Path) -> None:
    kinds = [
        json.loads(file.read_bytes())["kind"] for file in sorted((taken / "entries").glob("*.json"))
    ]
    assert set(kinds) >= {"boot", "spec", "build", "instrument", "press", "decision"}
    one = taken.parent / "one"
    kinds = [
        json.loads(file.read_bytes())["kind"] for file in sorted((one / "entries").glob("*.json"))
    ]
    assert kinds.count("press") == 1
    assert set(kinds) == {"boot", "instrument", "press", "decision"}
    assert len(list((one / "traces").glob("*.trace"))) == 1
    for folder in (taken, one):
        said = checked(folder)
        assert (said.returncode, said.stderr) == (0, "")
        assert said.stdout.startswith("whole: ")


Change = Callable[[Path], object]


def _edit(name: str, old: str, new: str) -> Change:
    def change(folder: Path) -> None:
        (file,) = sorted(folder.glob(name))[-1:]
        text = file.read_text("utf-8")
        assert old in text
        file.write_text(text.replace(old, new, 1), "utf-8")

    return change


def _last(folder: Path, pattern: str) -> Path:
    return sorted(folder.glob(pattern))[-1]


def _flip(name: str, at: int = -1) -> Change:
    def change(folder: Path) -> None:
        file = _last(folder, name)
        data = bytearray(file.read_bytes())
        data[at] ^= 1
        file.write_bytes(data)

    return change


def _exchange(folder: Path) -> None:
    """Two entries under each other's names and proofs."""
    first, second = sorted((folder / "entries").glob("*.json"))[:2]
    for ending in (".json", ".tlog-proof"):
        one, two = first.with_suffix(ending), second.with_suffix(ending)
        one_bytes, two_bytes = one.read_bytes(), two.read_bytes()
        one.write_bytes(two_bytes)
        two.write_bytes(one_bytes)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (_edit("entries/*.json", '"v":1', '"v":2'), "not what the checkpoint covers"),
        (_flip("entries/*.json", 10), "not what the checkpoint covers"),
        (_edit("entries/*.tlog-proof", "index ", "index 1"), "entry "),
        (_flip("entries/*.tlog-proof", 60), "entry "),
        (_flip("checkpoint.txt", 40), "checkpoint"),
        (_flip("traces/*.trace"), "its trace is missing or was changed"),
        (lambda folder: _last(folder, "traces/*.trace").unlink(), "its trace is missing"),
        (lambda folder: _last(folder, "entries/*.json").unlink(), "No such file"),
        (lambda folder: _last(folder, "entries/*.tlog-proof").unlink(), "No such file"),
        (_exchange, "it says it is entry"),
    ],
)  # fmt: skip
async def test_whatever_is_changed_is_found(taken: Path, change: Change, told: str) -> None:
    one = taken.parent / "one"
    change(one)
    said = checked(one)
    assert said.returncode == 1, said.stdout
    assert said.stdout.startswith("NOT WHOLE: ")
    assert told in said.stdout


async def test_another_key_and_another_history(taken: Path, tmp_path: Path) -> None:
    (tmp_path / "other").mkdir()
    async with service(tmp_path / "other") as listening, client(listening) as http:
        (tmp_path / "key.txt").write_text((await http.get("/v1/ledger/key")).text, "utf-8")
        (tmp_path / "head.txt").write_text((await http.get("/v1/ledger/checkpoint")).text, "utf-8")
    said = checked(taken, "--key", str(tmp_path / "key.txt"))
    assert said.returncode == 1
    assert "no signature of the checkpoint is by the key" in said.stdout
    said = checked(taken, "--checkpoint", str(tmp_path / "head.txt"))
    assert said.returncode == 1
    said = checked(taken, "--checkpoint", str(taken / "checkpoint.txt"))
    assert said.returncode == 0
    said = checked(taken, "--checkpoint", str(tmp_path / "kept.txt"))
    assert said.returncode == 1  # the proof of continuation was not asked for
    assert "kept elsewhere, does not fit" in said.stdout
    said = checked(taken.parent / "one", "--checkpoint", str(tmp_path / "kept.txt"))
    assert said.returncode == 0


async def test_a_bundle_from_the_command_line_continues_a_kept_checkpoint(
    taken: Path, tmp_path: Path
) -> None:
    made = tmp_path / "made.zip"
    words = ("export", str(tmp_path / "store"), "--format", "bundle", "--save", str(made))
    said = run(*words, "--entry", "1", "--against", str(tmp_path / "kept.txt"))
    assert said.returncode == 0, said.stderr
    folder = unpacked(made.read_bytes(), tmp_path / "made")
    packed = checked(folder, str(made))
    assert packed.returncode == 2
    assert "Unpack it first." in packed.stderr
    assert checked(folder, "--checkpoint", str(tmp_path / "kept.txt")).returncode == 0
    _flip("contents.json", -30)(folder)
    assert checked(folder, "--checkpoint", str(tmp_path / "kept.txt")).returncode in (1, 2)
    again = tmp_path / "again.zip"
    run(*words[:-1], str(again), "--entry", "1", "--against", str(tmp_path / "kept.txt"))
    assert again.read_bytes() == made.read_bytes()
    said = run(*words, "--entry", "999999")
    assert said.returncode == 2
    assert "There is no entry 999999" in said.stderr
    said = run(*words, "--entry", "1", "--against", str(SCRIPT))
    assert "is no checkpoint" in said.stderr
    said = run(*words)
    assert "a bundle needs --build, or --entry" in said.stderr


@pytest.mark.parametrize(
    ("query", "status"),
    [("", 422), ("?build=b1&entries=1", 422), ("?build=b999", 404), ("?entries=99999", 404),
     ("?entries=one", 422), ("?entries=1&since=99999", 404)],
)  # fmt: skip
async def test_what_cannot_be_taken(http: httpx.AsyncClient, query: str, status: int) -> None:
    answer = await http.get(f"/v1/ledger/bundle{query}")
    assert answer.status_code == status
    assert answer.json()["detail"]
