"""Commands run against a simulated Bluetooth adapter that lives in the test's own loop."""

from __future__ import annotations

import asyncio
import contextlib
import os
import signal
from collections.abc import AsyncIterator
from typing import NamedTuple

from simulators.ble.bus import PrivateBus
from simulators.ble.daemon import Daemon
from tests.served import ROOT, command

END_SECONDS = 30


class Said(NamedTuple):
    """What a command printed, and how it ended."""

    code: int | None
    out: str
    err: str


@contextlib.asynccontextmanager
async def adapter() -> AsyncIterator[Daemon]:
    """A simulated adapter on a bus of its own; it must have refused nothing."""
    bus = PrivateBus()
    daemon = Daemon(bus.address)
    daemon_address[daemon] = bus.address
    await daemon.start()
    try:
        yield daemon
    finally:
        await daemon.stop()
        daemon_address.pop(daemon)
        bus.stop()
    assert daemon.refused == []


daemon_address: dict[Daemon, str] = {}


async def begin(daemon: Daemon | None, *words: str) -> asyncio.subprocess.Process:
    """Starts a command; without a daemon there is no system bus."""
    address = daemon_address[daemon] if daemon else "unix:path=/nonexistent/bus"
    return await asyncio.create_subprocess_exec(
        *command(*words),
        stdin=asyncio.subprocess.DEVNULL,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.PIPE,
        env={**os.environ, "DBUS_SYSTEM_BUS_ADDRESS": address},
        cwd=ROOT,
    )


async def end(process: asyncio.subprocess.Process) -> Said:
    """What it says from now on until its end."""
    try:
        async with asyncio.timeout(END_SECONDS):
            out, err = await process.communicate()
    except TimeoutError:
        process.kill()
        await process.communicate()
        raise
    return Said(process.returncode, out.decode(), err.decode())


async def interrupt(process: asyncio.subprocess.Process) -> Said:
    """Ends it as Ctrl-C does."""
    process.send_signal(signal.SIGINT)
    return await end(process)


async def told(process: asyncio.subprocess.Process, words: str) -> None:
    """Waits until standard error says ``words``; fails where it ends first."""
    assert process.stderr is not None
    seen = ""
    async with asyncio.timeout(END_SECONDS):
        while words not in seen:
            line = await process.stderr.readline()
            assert line, f"it ended without saying {words!r}: {seen}"
            seen += line.decode()


async def line(process: asyncio.subprocess.Process) -> str:
    """Its next line on standard output."""
    assert process.stdout is not None
    async with asyncio.timeout(END_SECONDS):
        return (await process.stdout.readline()).decode()
