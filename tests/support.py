"""What several tests need: waiting on a condition, outside data, a browser, a free port."""

from __future__ import annotations

import asyncio
import os
import shutil
import socket
import time
from collections.abc import Callable
from pathlib import Path

import pytest


def eventually(condition: Callable[[], bool], what: str, seconds: float = 10.0) -> None:
    """Returns as soon as ``condition()`` holds; fails, naming ``what``, if it does not in time."""
    deadline = time.monotonic() + seconds
    while not condition():
        if time.monotonic() > deadline:
            pytest.fail(f"not within {seconds:g} s: {what}")
        time.sleep(0.005)


async def eventually_async(condition: Callable[[], bool], what: str, seconds: float = 10.0) -> None:
    """As ``eventually``, letting the event loop run in between."""
    deadline = time.monotonic() + seconds
    while not condition():
        if time.monotonic() > deadline:
            pytest.fail(f"not within {seconds:g} s: {what}")
        await asyncio.sleep(0.005)


def outside_data(name: str) -> Path:
    """The file ``name`` in the folder that OUTSIDE_DATA names; skips, saying so, without it.

    These are test vectors published elsewhere that are read but not copied into this project.
    """
    folder = os.environ.get("OUTSIDE_DATA")
    if not folder:
        pytest.skip(f"OUTSIDE_DATA does not name a folder that holds {name}")
    path = Path(folder) / name
    if not path.is_file():
        pytest.skip(f"no {name} in OUTSIDE_DATA ({folder})")
    return path


def find_chromium() -> str:
    """Path of a Chromium; skips without one, or fails where REQUIRE_BROWSER is set (as in CI)."""
    named = os.environ.get("CHROMIUM")
    for program in (named, "chromium", "chromium-browser", "google-chrome"):
        path = shutil.which(program) if program else None
        if path:
            return path
    missing = "no Chromium found: install it, or name it in CHROMIUM"
    if os.environ.get("REQUIRE_BROWSER"):
        pytest.fail(missing)
    pytest.skip(missing)


def free_port() -> int:
    """A TCP port of the loopback that was free a moment ago."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port
