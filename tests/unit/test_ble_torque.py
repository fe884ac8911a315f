"""A torque adapter with a radio: 500 samples a second in blocks, the real Bluetooth library on a
simulated adapter, the real pipeline and store behind it."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Iterator
from pathlib import Path
from typing import Any

import orjson
import pytest

from capture import command as c
from capture.clock import SystemClock
from capture.pipeline import Pipeline
from capture.trace.store import digits
from capture.verify import verify
from drivers.bench import parse_bench
from drivers.devices import Devices
from simulators.ble.bus import PrivateBus
from simulators.ble.daemon import Daemon
from simulators.ble.device import Device
from simulators.torque_stream import TorqueStream, brisk, pulled, resting
from simulators.torque_streaming import STREAM, over_radio, radio
from tests.ble import end_library, needs_bus, row
from tests.pipeline_bench import done
from tests.stream import BLOCK, RATES, SPEC, angles, stream, torques
from tests.support import eventually_async

pytestmark = needs_bus

PORT = '[[port]]\nid = "radio"\nurl = "ble://{address}"\nnotify = "{notify}"\n'


@pytest.fixture(scope="module")
def bus() -> Iterator[PrivateBus]:
    started = PrivateBus()
    yield started
    started.stop()


@pytest.fixture
async def daemon(bus: PrivateBus, monkeypatch: pytest.MonkeyPatch) -> AsyncIterator[Daemon]:
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", bus.address)
    started = Daemon(bus.address)
    await started.start()
    yield started
    await started.stop()
    assert started.refused == []


async def _short(seconds: float) -> None:
    await asyncio.sleep(min(seconds, 0.02))


@contextlib.asynccontextmanager
async def bench(store: Path, gauge: Device) -> AsyncIterator[Pipeline]:
    """Devices with a pipeline and an open build behind them; the adapter is ready."""
    port = PORT.format(address=gauge.address, notify=STREAM)
    text = row("adapter", "radio", "N·m", "torque-adapter", f'profile = "{BLOCK}"') + port
    described = parse_bench(text, "b.toml", store.parent)
    clock = SystemClock()
    made = Pipeline.open(
        store,
        clock=clock,
        instruments=described.instruments,
        profiles={BLOCK: "invented"},
        title="Radio bench",
    )
    made.start(asyncio.get_running_loop())
    devices = Devices(described, made, clock, sleep=_short)
    try:
        known = await done(made.submit(c.AddSpec(SPEC, "pump.toml")))
        await done(made.submit(c.OpenBuild(known.body["hash"], "One")))
        await devices.start()
        await until(devices, "ready")
        yield made
    finally:
        await devices.stop()
        await end_library()
        await asyncio.to_thread(made.stop)


async def until(devices: Devices, state: str) -> None:
    await eventually_async(lambda: devices.states()[0].state == state, f"it is {state}", 20)


async def stored(made: Pipeline, count: int) -> list[dict[str, Any]]:
    def found() -> list[dict[str, Any]]:
        return [orjson.loads(one) for one in made.archive.readings(limit=50).items]

    await eventually_async(lambda: len(found()) >= count, f"{count} pulls are stored", 30)
    return found()


def course(*kinds: str) -> TorqueStream:
    rate = RATES[BLOCK]
    samples = resting(0.4, rate)
    for kind in kinds:
        samples += [*pulled(brisk(kind, 25.0), rate, kind), *resting(0.7, rate)]
    return stream(BLOCK, samples)


@pytest.mark.parametrize("mtu", [247, 23])
async def test_no_sample_is_lost_over_the_radio(daemon: Daemon, tmp_path: Path, mtu: int) -> None:
    """Whole blocks in notifications, and blocks that a small MTU splits into three."""
    gauge = daemon.add(radio())
    gauge.mtu = mtu
    sends = course("click", "no-click") if mtu == 247 else course("click")
    pulls = 2 if mtu == 247 else 1
    async with bench(tmp_path / "store", gauge) as made:
        await over_radio(daemon, gauge, sends)
        readings = await stored(made, pulls)
        said = list(zip(torques(sends.sent), angles(sends.sent), strict=True))
        at = 0
        for reading in readings:
            assert reading["trace"]["incomplete"] is None
            blob = made.archive.blob(reading["trace"]["sha256"])
            assert blob is not None
            kept = digits(blob)
            got = list(zip(kept.torque, kept.angle or (), strict=True))
            place = next(n for n in range(at, len(said)) if said[n : n + len(got)] == got)
            assert all(abs(float(torque)) < 2 for torque, _ in said[at:place])
            at = place + len(got)
        assert readings[0]["placement"]["step"] == "tighten-lid-bolts/1/final"
        assert len(readings) == pulls
    assert verify(tmp_path / "store").problems == []


async def test_an_adapter_that_vanishes_in_a_pull_leaves_what_came(
    daemon: Daemon, tmp_path: Path
) -> None:
    gauge = daemon.add(radio())
    sends = course("slow")
    most = max(range(len(sends.samples)), key=lambda at: sends.samples[at].torque)
    del sends.samples[most // 10 * 10 :]
    async with bench(tmp_path / "store", gauge) as made:
        await over_radio(daemon, gauge, sends)
        daemon.vanish(gauge)
        (reading,) = await stored(made, 1)
        trace = reading["trace"]
        assert "the connection was lost" in trace["incomplete"]["why"]
        assert reading["placement"]["reason"]["code"] == "incomplete-pull"
        blob = made.archive.blob(trace["sha256"])
        assert blob is not None
        kept = tuple(digits(blob).torque)
        assert kept == torques(sends.sent)[len(sends.sent) - len(kept) :]
    assert verify(tmp_path / "store").problems == []
