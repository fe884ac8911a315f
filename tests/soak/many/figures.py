"""What a process uses, as the kernel counts it."""

from __future__ import annotations

import contextlib
import os
import re
import time
from collections import Counter
from pathlib import Path
from typing import NamedTuple


class Figures(NamedTuple):
    """One moment of a process."""

    threads: int
    files: Counter[str]
    """What it has open, and how often; of sockets and the like only that they are."""
    resident: int
    """Bytes of memory in use."""
    busy: float
    """Seconds of processor time so far."""
    at: float
    """Seconds of a clock, to compare it with."""


def figures(pid: int) -> Figures:
    """Of a process of ours; Linux only."""
    folder = Path(f"/proc/{pid}")
    status = dict(
        line.split(":", 1) for line in (folder / "status").read_text().splitlines() if ":" in line
    )
    # the name, in parentheses, may hold blanks; the 14th and 15th fields are the times
    times = (folder / "stat").read_text().rpartition(")")[2].split()[11:13]
    return Figures(
        int(status["Threads"]),
        _files(folder / "fd"),
        int(status["VmRSS"].split()[0]) * 1024,
        sum(map(int, times)) / os.sysconf("SC_CLK_TCK"),
        time.monotonic(),
    )


def at_rest(looks: list[Figures]) -> Figures:
    """The least of some looks: an answer under way holds a thread or a file for a moment."""
    files = looks[0].files
    for look in looks[1:]:
        files = files & look.files
    return looks[-1]._replace(
        threads=min(look.threads for look in looks),
        files=files,
        resident=min(look.resident for look in looks),
    )


def _files(folder: Path) -> Counter[str]:
    targets: Counter[str] = Counter()
    for name in os.listdir(folder):
        with contextlib.suppress(OSError):  # closed meanwhile
            # a terminal comes back under another number, a socket always has one of its own
            targets[re.sub(r"(?<=/dev/pts/)\d+|(?<=:\[)\d+", "", os.readlink(folder / name))] += 1
    return targets
