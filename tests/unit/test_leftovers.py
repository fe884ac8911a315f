"""The fixtures that watch for leftovers see them: shown tests that leave one of each kind."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

_CULPRITS = """
import asyncio, subprocess, sys, threading
import pytest

kept = []

def test_thread():
    kept.append(threading.Event())
    threading.Thread(target=kept[-1].wait, args=(20,), name="stray-thread", daemon=True).start()

@pytest.mark.skipif(sys.platform != "linux", reason="children are read from /proc")
def test_child():
    kept.append(subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE))

@pytest.mark.skipif(sys.platform != "linux", reason="descriptors are read from /proc")
def test_file(tmp_path):
    kept.append(open(tmp_path / "stray-file", "w"))

async def test_task():
    kept.append(asyncio.create_task(asyncio.sleep(60), name="stray-task"))
"""

_INNOCENT = """
import asyncio, subprocess, sys, threading

def test_all(tmp_path):
    thread = threading.Thread(target=int); thread.start(); thread.join()
    subprocess.run([sys.executable, "-c", ""], check=True)
    (tmp_path / "file").write_text("x")

async def test_async():
    await asyncio.create_task(asyncio.to_thread(int))
"""


def _outcome(folder: Path, tests: str) -> str:
    root = Path(__file__).parents[2]
    (folder / "conftest.py").write_text(
        "from tests import leftovers\n"
        "from tests.conftest import *\n"
        "leftovers.patience_seconds = 0.2\n"
    )
    (folder / "test_shown.py").write_text(tests)
    ran = subprocess.run(
        [
            sys.executable,
            "-m",
            "pytest",
            "-c",
            root / "pyproject.toml",
            "--rootdir",
            folder,
            folder,
        ],
        env={**os.environ, "PYTHONPATH": str(root)},
        capture_output=True,
        text=True,
        timeout=60,
    )
    return ran.stdout


@pytest.mark.skipif(sys.platform != "linux", reason="children and files are read from /proc")
def test_each_kind_of_leftover_fails_its_test(tmp_path: Path) -> None:
    shown = _outcome(tmp_path, _CULPRITS)
    assert "4 passed, 4 errors" in shown
    assert "left behind: thread 'stray-thread'" in shown
    assert "left behind: child process" in shown
    assert "stray-file" in shown
    assert "stray-task" in shown


def test_what_is_cleared_away_passes(tmp_path: Path) -> None:
    shown = _outcome(tmp_path, _INNOCENT)
    assert "2 passed" in shown
    assert "left behind" not in shown
