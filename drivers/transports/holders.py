"""Which programs have a device open, as far as this process may know.

Linux shows each process's open files in /proc, to its owner and to root.
"""

from __future__ import annotations

import os
from typing import NamedTuple

PROC = "/proc"


class Holder(NamedTuple):
    """A process that has the device open."""

    pid: int
    name: str
    """What the system calls it; empty where that cannot be read."""

    def __str__(self) -> str:
        return f"{self.name}, process {self.pid}" if self.name else f"process {self.pid}"


def holders(device: str, proc: str = PROC) -> list[Holder]:
    """Who has ``device`` open, by process number; empty where nobody is seen to have.

    Processes whose files this one may not see are passed over.
    """
    wanted = os.path.realpath(device)
    pids = sorted(int(name) for name in _names(proc) if name.isdecimal())
    return [Holder(pid, _name(proc, pid)) for pid in pids if _has(f"{proc}/{pid}/fd", wanted)]


def _has(folder: str, wanted: str) -> bool:
    for name in _names(folder):
        try:
            if os.readlink(f"{folder}/{name}") == wanted:
                return True
        except OSError:  # closed meanwhile
            continue
    return False


def _names(folder: str) -> list[str]:
    try:
        return os.listdir(folder)
    except OSError:  # no such system, ended meanwhile, or another user's
        return []


def _name(proc: str, pid: int) -> str:
    try:
        with open(f"{proc}/{pid}/comm", encoding="utf-8", errors="replace") as file:
            return file.read().strip()
    except OSError:
        return ""
