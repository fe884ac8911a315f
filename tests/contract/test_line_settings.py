"""What wrong speed, parity or stop bits do to an instrument's line, through the whole driver.

The simulated RFC 2217 server has a bit-level model of the line, so that wrong settings give what a
real line gives; a pseudo-terminal ignores them.
"""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator
from pathlib import Path

import pytest

from capture.clock import SystemClock
from capture.reading import Pull, Reading, Undecodable
from drivers.bench import parse_bench
from drivers.devices import Devices
from simulators.rfc2217_server import Rfc2217Server
from simulators.uart import LineSettings
from tests.fake_ports import Store
from tests.support import eventually_async

# pyserial 3.5 still calls Thread.setDaemon and setName
pytestmark = pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")

PROFILE = """[frame]
kind = "terminator"
terminators = ["\\r", "\\n"]
max_length = 64
patience_seconds = "0.1"
[decode]
kind = "text"
layout = " {sign?} {number} {unit?} "
"""
BENCH = """[[instrument]]
id = "mike"
kind = "micrometer"
port = "cable"
profile = "line.toml"
unit = "mm"
resolution = "0.001"
[[port]]
id = "cable"
url = "URL"
"""
PRESSES = [b"+25.400 mm\r\n", b"-0.012 mm\r\n", b"+12.345 mm\r\n"]


@contextlib.asynccontextmanager
async def at_the_line(
    instrument: LineSettings, port: str, folder: Path
) -> AsyncIterator[tuple[Rfc2217Server, Store, Devices]]:
    (folder / "line.toml").write_text(PROFILE)
    server = Rfc2217Server(instrument)
    url = await server.start()
    store = Store()
    bench = parse_bench(BENCH.replace("URL", url) + port, "bench.toml", folder)
    devices = Devices(bench, store, SystemClock(), ports=list)
    await devices.start()
    try:
        await eventually_async(lambda: devices.states()[0].state == "ready", "ready")
        yield server, store, devices
    finally:
        await devices.stop()
        await server.stop()


@pytest.mark.parametrize(
    ("instrument", "port"),
    [
        (LineSettings(), ""),
        (LineSettings(4800, 7, "even", 2), 'baud = 4800\ndata_bits = 7\nparity = "even"\n'
         "stop_bits = 2\n"),
        (LineSettings(1200, 8, "odd", 1), 'baud = 1200\nparity = "odd"\n'),
    ],
)  # fmt: skip
async def test_with_the_instruments_settings_every_press_is_read(
    instrument: LineSettings, port: str, tmp_path: Path
) -> None:
    async with at_the_line(instrument, port, tmp_path) as (server, store, _):
        for press in PRESSES:
            await server.send(press)
        await eventually_async(lambda: len(store.items) == 3, "three presses")

        assert store.told == ["25.400", "-0.012", "12.345"]


@pytest.mark.parametrize(
    ("instrument", "port"),
    [
        (LineSettings(9600), "baud = 4800\n"),
        (LineSettings(9600), "baud = 19200\n"),
        (LineSettings(9600), "baud = 2400\n"),
        (LineSettings(1200), "baud = 115200\n"),
        (LineSettings(9600, 7, "odd"), ""),
    ],
)
async def test_with_wrong_settings_every_press_is_kept_and_none_is_a_reading(
    instrument: LineSettings, port: str, tmp_path: Path
) -> None:
    async with at_the_line(instrument, port, tmp_path) as (server, store, _):
        arrived = b""
        for press in PRESSES:
            arrived += await server.send(press)

        def kept() -> bytes:
            return b"".join(item.raw for item in store.items if not isinstance(item, Pull))

        def bare(data: bytes) -> bytes:
            return data.translate(None, b"\r\n")

        await eventually_async(lambda: bare(kept()) == bare(arrived), "all garbage is kept")
        assert arrived != b"".join(PRESSES)
        assert all(isinstance(item, Undecodable) for item in store.items)
        assert 1 <= len(store.items) <= 12


async def test_a_server_that_hangs_up_is_connected_again(tmp_path: Path) -> None:
    async with at_the_line(LineSettings(), "", tmp_path) as (server, store, devices):
        await server.hang_up()
        await eventually_async(lambda: "lost" in store.states_of(), "lost")
        lost = next(state for state in store.states if state.state == "lost")
        assert "check the network" in lost.detail

        await eventually_async(lambda: devices.states()[0].state == "ready", "ready again")
        await server.send(PRESSES[0])
        await eventually_async(lambda: len(store.items) == 2, "a gap, and a press")
        gap, press = store.items
        assert isinstance(gap, Undecodable)
        assert gap.code == "gap"
        assert isinstance(press, Reading)
