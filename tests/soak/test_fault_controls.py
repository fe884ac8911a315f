"""The harness of power cuts finds the faults it is meant to find, and no others.

A harness whose control does not fail proves nothing, so each known fault is run here.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from tests.soak.faults import control, recorder
from tests.soak.faults import trace as traces
from tests.soak.faults.disk import cuts, everything
from tests.soak.faults.recorder import Recording
from tests.soak.faults.trace import Trace

ROWS = int(os.environ.get("SOAK_ROWS", "150"))
SHARE = float(os.environ.get("SOAK_SHARE", "0.3"))


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return recorder.build(tmp_path_factory.mktemp("recorder"))


def _record(library: Path, base: Path, synchronous: str, order: str) -> tuple[Trace, Path]:
    folder = base / "store"
    folder.mkdir()
    recording = Recording.into(library, folder, base)
    command = [sys.executable, control.__file__, str(folder), synchronous, order, str(ROWS)]
    subprocess.run(command, env=recording.environment(), timeout=60, check=True)
    return traces.read(recording.trace), folder


def _outcomes(trace: Trace, scratch: Path) -> Counter[str]:
    """How many cuts end in which way."""
    seen: Counter[str] = Counter()
    for n, cut in enumerate(cuts(trace, random.Random(2), SHARE)):
        folder = scratch / f"cut{n}"
        folder.mkdir()
        cut.write(folder)
        acknowledged = int(cut.sent[-1].data) if cut.sent else 0
        complaint = control.complaint(folder, acknowledged)
        seen["good" if complaint is None else complaint.split()[0].rstrip(":")] += 1
        for path in folder.iterdir():
            path.unlink()
        folder.rmdir()
    return seen


def test_the_recorder_misses_nothing(library: Path, tmp_path: Path) -> None:
    trace, folder = _record(library, tmp_path, "FULL", "late")
    found = {p.name: p.read_bytes() for p in folder.iterdir() if p.name != "__ack__"}
    assert everything(trace) == found
    assert traces.count(trace, "A") == ROWS


def test_a_careful_writer_loses_nothing_at_any_point(
    library: Path, tmp_path: Path, scratch: Path
) -> None:
    trace, _ = _record(library, tmp_path, "FULL", "late")
    outcomes = _outcomes(trace, scratch)
    assert set(outcomes) == {"good"}
    assert outcomes["good"] > 3 * ROWS


@pytest.mark.parametrize(
    ("synchronous", "order"), [("OFF", "late"), ("NORMAL", "late"), ("FULL", "early")]
)
def test_a_careless_writer_is_found_out(
    library: Path, tmp_path: Path, scratch: Path, synchronous: str, order: str
) -> None:
    trace, _ = _record(library, tmp_path, synchronous, order)
    outcomes = _outcomes(trace, scratch)
    assert outcomes["lost"] + outcomes["damaged"] > outcomes.total() / 5


@pytest.mark.parametrize("fault", ["no syncs", "no log syncs", "early answers"])
def test_the_same_faults_put_into_a_good_recording_are_found_out(
    library: Path, tmp_path: Path, scratch: Path, fault: str
) -> None:
    """So that the real service's recording can be given them too."""
    trace, _ = _record(library, tmp_path, "FULL", "late")
    outcomes = _outcomes(traces.spoilt(trace, fault), scratch)
    assert outcomes["lost"] + outcomes["damaged"] > outcomes.total() / 5


def test_without_this_harness_a_kill_shows_no_missing_sync(
    library: Path, tmp_path: Path, scratch: Path
) -> None:
    """Why kills alone are not enough: with synchronous=OFF all that was written is still there."""
    trace, _ = _record(library, tmp_path, "OFF", "late")
    for name, content in everything(trace).items():
        (scratch / name).write_bytes(content)
    assert control.complaint(scratch, ROWS) is None
