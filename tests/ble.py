"""A bench whose gauges are on a simulated Bluetooth adapter."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator
from pathlib import Path

import pytest

from capture.clock import SystemClock
from drivers.bench import parse_bench
from drivers.devices import Devices
from simulators.ble.bus import available
from tests.fake_ports import Store

needs_bus = pytest.mark.skipif(
    not available(), reason="dbus-daemon is not installed (Debian package dbus-daemon)"
)

ROW = """[[instrument]]
id = "{id}"
kind = "{kind}"
port = "{port}"
unit = "{unit}"
resolution = "0.001"
{more}
"""


def row(
    id: str = "mike",  # noqa: A002 # as bench.toml has it
    port: str = "ble://C2:00:00:00:00:01",
    unit: str = "mm",
    kind: str = "micrometer",
    more: str = "",
) -> str:
    """One instrument of bench.toml."""
    return ROW.format(id=id, port=port, unit=unit, kind=kind, more=more)


@contextlib.asynccontextmanager
async def devices(*rows: str, folder: Path = Path()) -> AsyncIterator[tuple[Devices, Store]]:
    """The bench running, with what it stores."""
    store = Store()
    running = Devices(
        parse_bench("".join(rows), "b.toml", folder), store, SystemClock(), sleep=_short
    )
    await running.start()
    try:
        yield running, store
    finally:
        await running.stop()
        await end_library()


async def _short(seconds: float) -> None:
    await asyncio.sleep(min(seconds, 0.02))


async def end_library() -> None:
    """Closes the bus connection the library keeps for each loop, which it never does itself."""
    from bleak.backends.bluezdbus import manager

    kept = manager._global_instances.pop(asyncio.get_running_loop(), None)
    if kept is not None and kept._bus is not None:
        kept._bus.disconnect()
        if kept._bus_watcher_task is not None:
            await asyncio.wait({kept._bus_watcher_task})
