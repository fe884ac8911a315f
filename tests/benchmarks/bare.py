"""The floors: what the machine, SQLite and Python cost when nothing else is done.

Each is the denominator of a ratio: a commit of one row, the imports a service cannot do without,
the start of Python itself, hashing and parsing an entry's bytes.
"""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path

import orjson

TABLE = "CREATE TABLE row(a INTEGER PRIMARY KEY, b REAL, c, d, e, f, g, h)"
INSERT = "INSERT INTO row VALUES(NULL,?,?,?,?,?,?,?)"
ROW = ("terminal", "+86.0050 mm", "86.0050", "mm", "conforming", "a" * 64)
IMPORTS = "import fastapi, uvicorn, serial"
GAP_SECONDS = 0.005
"""Between two presses; a person needs longer, and a disk's cache would not."""


@contextmanager
def commits(folder: Path) -> Iterator[Callable[[int], float]]:
    """Gives what makes one synchronous commit of one row and says how many seconds it took."""
    for leftover in folder.glob("bare.db*"):
        leftover.unlink()
    with closing(sqlite3.connect(folder / "bare.db", isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("PRAGMA synchronous=FULL")
        connection.execute(TABLE)

        def commit(_: int) -> float:
            began = time.monotonic()
            connection.execute("BEGIN IMMEDIATE")
            connection.execute(INSERT, (began, *ROW))
            connection.execute("COMMIT")
            return time.monotonic() - began

        yield commit


def environment() -> dict[str, str]:
    """For a process that is measured: compiled modules are kept, as where it is installed."""
    return {name: text for name, text in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}


def python_start() -> float:
    """Seconds that ``python -c pass`` takes from start to end."""
    return run_seconds([sys.executable, "-c", "pass"])


def run_seconds(command: Sequence[str], cwd: Path | None = None) -> float:
    """Seconds a command takes from start to end. It must succeed."""
    began = time.monotonic()
    # Through a pipe: waiting with a timeout for a process alone looks only every 50 ms.
    subprocess.run(
        command, cwd=cwd, env=environment(), check=True, stdout=subprocess.PIPE, timeout=120
    )
    return time.monotonic() - began


def imports() -> tuple[float, int]:
    """Seconds from start to imported, and resident bytes then, of what any service here needs."""
    program = f"{IMPORTS}; import sys; print(flush=True); sys.stdin.read()"
    began = time.monotonic()
    process = subprocess.Popen(
        [sys.executable, "-c", program],
        env=environment(),
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    assert process.stdout is not None
    process.stdout.readline()
    taken = time.monotonic() - began
    memory = resident(process.pid)
    process.communicate(timeout=20)
    return taken, memory


def resident(pid: int, what: str = "VmRSS") -> int:
    """Resident bytes of a process (``VmHWM``: at its highest); 0 where /proc does not say."""
    try:
        status = Path(f"/proc/{pid}/status").read_text()
    except OSError:
        return 0
    return next(
        (int(line.split()[1]) * 1024 for line in status.splitlines() if line.startswith(what)), 0
    )


def hash_and_parse(entries: Sequence[bytes]) -> dict[str, float]:
    """Seconds of one SHA-256 and one JSON parse of each entry, by the parser's name."""
    sha256 = hashlib.sha256
    spent: dict[str, float] = {}
    for name, loads in (("json", json.loads), ("orjson", orjson.loads)):
        began = time.perf_counter()
        for entry in entries:
            sha256(entry).digest()
            loads(entry)
        spent[name] = time.perf_counter() - began
    return spent
