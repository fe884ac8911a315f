"""What a test may leave behind: threads, child processes, open files. Finds what is new.

Descriptors and children are read from /proc, so only Linux is watched for those two; threads are
watched everywhere.
"""

from __future__ import annotations

import gc
import os
import threading
import time
from pathlib import Path
from typing import NamedTuple

_LIBRARY_THREADS = (
    "asyncio_",  # the loop's own executor; ends when the loop is closed, after this check
    "AnyIO worker",  # idles a while, then ends with the loop
    "ThreadPoolExecutor-playwright",
    "pytest_timeout",
)
_LIBRARY_FILES = ("/dev/urandom", "/dev/random", "anon_inode:inotify")


patience_seconds = 2.0
"""How long what is ending anyway may take to be gone."""


class Held(NamedTuple):
    """What the process holds at one moment."""

    threads: frozenset[threading.Thread]
    children: frozenset[int]
    files: frozenset[tuple[int, str]]


def held() -> Held:
    """What this process holds now."""
    return Held(_threads(), _children(), _files())


def left_since(before: Held) -> list[str]:
    """One line for each thread, child or file that is there now and was not ``before``."""
    deadline = time.monotonic() + patience_seconds
    while True:
        left = _new(before, held())
        if not left or time.monotonic() > deadline:
            return left
        gc.collect()
        time.sleep(0.01)


def _new(before: Held, now: Held) -> list[str]:
    threads = [f"thread {thread.name!r}" for thread in now.threads - before.threads]
    children = [f"child process {pid}: {_command(pid)}" for pid in now.children - before.children]
    files = [f"file descriptor {number}: {target}" for number, target in now.files - before.files]
    return sorted(threads) + sorted(children) + sorted(files)


def _threads() -> frozenset[threading.Thread]:
    return frozenset(
        thread for thread in threading.enumerate() if not thread.name.startswith(_LIBRARY_THREADS)
    )


def _children() -> frozenset[int]:
    pids: set[int] = set()
    for listing in Path("/proc/self/task").glob("*/children"):
        try:
            pids.update(map(int, listing.read_text().split()))
        except OSError:  # that thread has just ended
            continue
    return frozenset(pids)


def _files() -> frozenset[tuple[int, str]]:
    files: set[tuple[int, str]] = set()
    folder = "/proc/self/fd"
    if not os.path.isdir(folder):
        return frozenset()
    for name in os.listdir(folder):
        try:
            target = os.readlink(f"{folder}/{name}")
        except OSError:  # the descriptor with which the folder itself was read
            continue
        if not target.startswith(_LIBRARY_FILES):
            files.add((int(name), target))
    return frozenset(files)


def _command(pid: int) -> str:
    try:
        words = Path(f"/proc/{pid}/cmdline").read_bytes().replace(b"\0", b" ")
    except OSError:
        return "gone"
    return words.decode(errors="replace").strip()[:200] or "ended, but nobody waited for it"
