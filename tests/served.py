"""The service as a process of its own, through its command line."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.running import BENCH

ROOT = Path(__file__).parent.parent
END_SECONDS = 15


def command(*words: str) -> list[str]:
    """How ``witnessmark …`` is run from the environment that runs the tests."""
    return [sys.executable, "-m", "api.cli", *words]


def run(
    *words: str, given: bytes | None = None, seconds: float = 30
) -> subprocess.CompletedProcess[str]:
    """Runs a command to its end."""
    return subprocess.run(
        command(*words),
        input=None if given is None else given.decode("latin-1"),
        capture_output=True,
        encoding="latin-1" if given is not None else "utf-8",
        stdin=subprocess.DEVNULL if given is None else None,
        timeout=seconds,
        cwd=ROOT,
    )


@contextmanager
def served(folder: Path, *words: str, complains: bool = False) -> Iterator[dict[str, Any]]:
    """A running service with its store in ``folder``; gives its line of JSON. It must end well, and
    unless it has reason to complain, say nothing."""
    bench = folder / "bench.toml"
    if not bench.exists():
        bench.write_text(BENCH, "utf-8")
    paths = ("--bench", str(bench), "--store", str(folder / "store"))
    process = subprocess.Popen(
        command("serve", *paths, "--port", "0", "--json", *words),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        encoding="utf-8",
        cwd=ROOT,
    )
    assert process.stdout is not None
    try:
        line = process.stdout.readline()
        assert line, f"it did not start: {process.communicate(timeout=END_SECONDS)[1]}"
        yield {**json.loads(line), "pid": process.pid}
    finally:
        process.send_signal(signal.SIGTERM)
        try:
            _, said = process.communicate(timeout=END_SECONDS)
        except subprocess.TimeoutExpired:
            process.kill()
            process.communicate()
            raise
    assert process.returncode == 0, said
    assert complains or said == "", f"it complained: {said}"
