"""The demo, as a person meets it."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from capture.errors import CaptureError
from tests.built import Built
from tests.served import ROOT, command, run
from tests.support import eventually

pytestmark = pytest.mark.timeout(120)


# the demo ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["bench.toml", "store", "ports", "demo.json"])
def test_the_demo_overwrites_nothing_of_a_persons(tmp_path: Path, name: str) -> None:
    mine = tmp_path / name
    if name in ("store", "ports"):
        mine.mkdir()
        mine /= "file"
    mine.write_text("mine", "utf-8")
    said = run("demo", "--until-done", "--keep", str(tmp_path))
    assert said.returncode == 2
    assert f"{tmp_path / name} is there already" in said.stderr
    assert "Mend: give --keep a new folder." in said.stderr
    assert mine.read_text("utf-8") == "mine"
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_the_help_of_the_demo_names_every_scenario_there_is() -> None:
    there = {file.parent.name for file in ROOT.glob("simulators/scenarios/*/scenario.toml")}
    assert len(there) >= 2
    (line,) = re.findall(r"--scenario.*?(?=--open)", run("demo", "--help").stdout, re.DOTALL)
    assert all(name in line for name in there)


def test_the_progress_of_the_demo_says_that_it_starts_before_it_counts(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from api.cli.tally import STARTING, Progress

    monkeypatch.setenv("COLUMNS", "120")
    with Progress(True):
        pass
    said = capsys.readouterr().err
    assert STARTING in said
    assert "0/" not in said


@pytest.mark.parametrize("below", ["", "deeper"])
def test_the_demo_is_not_kept_in_a_file(tmp_path: Path, below: str) -> None:
    (tmp_path / "file").write_text("mine", "utf-8")
    said = run("demo", "--until-done", "--keep", str(tmp_path / "file" / below))
    assert said.returncode == 2
    assert said.stderr.count("\n") == 1
    assert "Mend: " in said.stderr


def test_a_demo_takes_its_own_folder_again_but_never_a_ledger(tmp_path: Path) -> None:
    from api.cli.demo import prepare

    prepare(tmp_path, "inline-four")
    for name in ("bench.toml", "ports"):
        (tmp_path / name).mkdir()
    prepare(tmp_path, "inline-four")
    (tmp_path / "store").mkdir()
    with pytest.raises(CaptureError, match="store is there already"):
        prepare(tmp_path, "inline-four")


def test_the_demo_builds_the_engine_and_proves_it(built: Built) -> None:
    assert built.code == 0, built.err
    assert built.err.startswith("bench page: http://127.0.0.1:")
    report = json.loads(built.out.splitlines()[-1])
    assert report["readings_sent"] == report["readings_stored"] > 100
    assert report["verified"] is True
    assert report["steps_done"] == report["steps_total"] > 100
    results = ("conforming", "nonconforming", "undecided", "not_evaluated")
    assert sum(report[name] for name in results) == report["readings_stored"]
    assert json.loads(run("verify", str(built.store), "--json").stdout)["ok"]
    again = run("demo", "--until-done", "--json", "--keep", str(built.folder))
    assert again.returncode == 2
    assert "there already" in again.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="the workbench needs pseudo-terminals")
def test_ctrl_c_ends_the_demo_and_its_workbench(tmp_path: Path) -> None:
    process = subprocess.Popen(
        command("demo", "--no-open", "--pace", "5", "--keep", str(tmp_path / "kept")),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )
    assert process.stderr is not None
    line = process.stderr.readline()
    assert "bench page: http://127.0.0.1:" in line
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children")
    pids = children.read_text().split() if children.exists() else []
    process.send_signal(signal.SIGINT)
    process.communicate(timeout=30)
    assert process.returncode == 130
    left = {Path(f"/proc/{pid}") for pid in pids}
    eventually(lambda: not any(path.exists() for path in left), f"the workbench {pids} ended")
