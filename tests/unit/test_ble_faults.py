"""What goes wrong with a radio, with the real Bluetooth library on a simulated adapter."""

from __future__ import annotations

import asyncio
import gc
from collections.abc import AsyncIterator, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from dbus_fast import Message
from dbus_fast.aio import MessageBus

from drivers.ble.dead_bus import take_what_it_leaves
from simulators.ble.bus import PrivateBus
from simulators.ble.daemon import Daemon
from simulators.ble.gauges import BATTERY, VALUE, describing, industrial, integer
from tests.ble import devices, end_library, needs_bus, row
from tests.fake_ports import Store
from tests.running import client, opened_build, service
from tests.support import eventually_async

pytestmark = needs_bus


@pytest.fixture
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


async def ready(store: Store) -> None:
    await eventually_async(lambda: store.states_of()[-1:] == ["ready"], "it is ready")


async def _eventually(http: httpx.AsyncClient, path: str, holds: Any) -> Any:
    """The answer of ``path`` as soon as ``holds`` of it."""
    deadline = asyncio.get_running_loop().time() + 10
    while not holds(answer := (await http.get(path)).json()):
        assert asyncio.get_running_loop().time() < deadline, answer
        await asyncio.sleep(0.02)
    return answer


async def test_what_the_bluetooth_service_doubles_is_stored_and_held_for_a_person(
    daemon: Daemon, tmp_path: Path
) -> None:
    """Two notifications of the same bytes may be one that was doubled, or two presses: nobody can
    tell them apart by radio, so neither is thrown away and only one counts."""
    gauge = daemon.add(describing())
    gauge.copies = 2
    (tmp_path / "bench.toml").write_text(row(more="simulated = true"), "utf-8")
    async with service(tmp_path) as running, client(running) as http:
        await _eventually(
            http, "/v1/instruments", lambda told: told["instruments"][0]["state"] == "ready"
        )
        await opened_build(http)
        assert daemon.notify(gauge, gauge.characteristic(VALUE), integer(25_001))
        page = await _eventually(http, "/v1/readings", lambda told: len(told["readings"]) == 2)
    await end_library()

    first, second = page["readings"]
    assert first["value"] == second["value"] == "0.025001"
    assert first["placement"]["step"] == "measure-diameter/1/top"
    assert second["placement"]["reason"]["code"] == "repeated-press"


async def test_a_low_battery_is_a_field_of_the_devices_state(
    daemon: Daemon, tmp_path: Path
) -> None:
    daemon.add(describing(battery=15))
    (tmp_path / "bench.toml").write_text(row(more="simulated = true"), "utf-8")
    async with service(tmp_path) as running, client(running) as http:
        answer = await _eventually(
            http, "/v1/instruments", lambda told: told["instruments"][0]["state"] == "ready"
        )
        bench = (await http.get("/v1/bench")).json()
    await end_library()

    device = answer["instruments"][0]["device"]
    assert (device["battery"], device["low_battery"]) == (15, True)
    assert device["since"] <= device["at"]
    assert bench["devices"] == [device]


async def test_a_battery_that_tells_by_itself_is_heard_at_once(daemon: Daemon) -> None:
    gauge = daemon.add(describing())
    level = gauge.characteristic(BATTERY)
    level.flags = ("read", "notify")
    async with devices(row()) as (running, store):
        await ready(store)
        (state,) = running.states()
        assert (state.battery, state.low_battery) == (80, False)
        assert daemon.notify(gauge, level, bytes([20]))
        await eventually_async(lambda: store.states[-1].low_battery, "it is low")
        assert (store.states[-1].state, store.states[-1].battery) == ("ready", 20)
        daemon.vanish(gauge)
        await eventually_async(lambda: store.states_of()[-1] == "scanning", "it is gone")
        assert store.states[-1].low_battery, "its loss is no news of its battery"
    assert store.told == ["gap"]


@pytest.mark.parametrize("flags", [("read",), ("read", "notify")])
async def test_a_battery_that_may_not_be_read_costs_no_readings(
    daemon: Daemon, flags: tuple[str, ...]
) -> None:
    gauge = daemon.add(describing())
    level = gauge.characteristic(BATTERY)
    level.flags = flags
    level.refuses = ("org.bluez.Error.NotPermitted", "Read not permitted")
    port = '[[port]]\nid = "radio"\nurl = "ble://C2:00:00:00:00:01"\nsilence_seconds = "1"\n'
    async with devices(row(port="radio"), port) as (running, store):
        await ready(store)
        probed = daemon.reads
        await eventually_async(lambda: daemon.reads > probed, "it was asked whether it is there")
        assert daemon.notify(gauge, gauge.characteristic(VALUE), integer(1))
        await eventually_async(lambda: store.told == ["0.000001"], "the press is stored")
        assert running.states()[0].battery is None
    assert "lost" not in store.states_of()


async def test_one_device_heard_many_times_is_no_namesake_of_itself(daemon: Daemon) -> None:
    gauge = daemon.add(describing())
    gauge.advertisements = 5
    async with devices(row(port="ble://Invented gauge")) as (_, store):
        await ready(store)
        assert gauge.connected
    assert "lost" not in store.states_of()


async def test_a_bus_that_dies_is_a_gap_and_the_next_one_is_used(
    bus: PrivateBus, monkeypatch: pytest.MonkeyPatch
) -> None:
    complaints: list[dict[str, Any]] = []
    asyncio.get_running_loop().set_exception_handler(lambda _, said: complaints.append(said))
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", bus.address)
    monkeypatch.setattr("drivers.ble.link.TOUCH", 0.3)
    first = Daemon(bus.address)
    await first.start()
    gauge = first.add(describing())
    async with devices(row()) as (_, store):
        await ready(store)
        first.notify(gauge, gauge.characteristic(VALUE), integer(1))
        await eventually_async(lambda: store.told == ["0.000001"], "the press is stored")
        bus.stop()
        await eventually_async(lambda: "lost" in store.states_of(), "the loss is told")
        await first.stop()
        second_bus = PrivateBus()
        monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", second_bus.address)
        second = Daemon(second_bus.address)
        await second.start()
        gauge = second.add(describing())
        await ready(store)
        second.notify(gauge, gauge.characteristic(VALUE), integer(2))
        await eventually_async(lambda: store.told[-1] == "0.000002", "it is read again")
    await second.stop()
    second_bus.stop()
    await _collected()

    assert store.told == ["0.000001", "gap", "0.000002"]
    assert complaints == []


async def _spoken_to_after_its_end(bus: PrivateBus) -> None:
    connection = await MessageBus(bus_address=bus.address).connect()
    bus.stop()
    hello = Message(
        destination="org.freedesktop.DBus",
        path="/org/freedesktop/DBus",
        interface="org.freedesktop.DBus",
        member="ListNames",
    )
    with pytest.raises(OSError):  # noqa: PT011 # which one depends on how far it is closed
        await connection.call(hello)
    with pytest.raises(OSError):  # noqa: PT011 # likewise
        # The bus library leaves this call without types.
        await connection.wait_for_disconnect()  # type: ignore[no-untyped-call]
    del connection


async def _collected() -> None:
    await asyncio.sleep(0)
    gc.collect()


async def test_what_the_library_leaves_of_a_dead_bus_is_taken_and_nothing_else(
    bus: PrivateBus,
) -> None:
    complaints: list[str] = []
    loop = asyncio.get_running_loop()
    loop.set_exception_handler(lambda _, said: complaints.append(str(said["exception"])))
    other_bus = PrivateBus()
    await _spoken_to_after_its_end(other_bus)
    await _collected()
    assert complaints, "it no longer leaves anything: dead_bus.py can go"
    complaints.clear()

    take_what_it_leaves(loop)
    take_what_it_leaves(loop)
    await _spoken_to_after_its_end(bus)
    await _collected()
    assert complaints == []
    for error in (OSError("of our own"), ValueError("of our own")):
        loop.create_future().set_exception(error)
        await _collected()
    assert complaints == ["of our own"] * 2


async def test_a_device_that_only_sends_is_missed_too_when_the_service_dies(
    bus: PrivateBus, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It has no battery, no format and nothing to be read: only who has subscribed is left to ask
    for."""
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", bus.address)
    monkeypatch.setattr("drivers.ble.link.TOUCH", 0.3)
    first = Daemon(bus.address)
    await first.start()
    wrench = first.add(industrial())
    port = f'[[port]]\nid = "radio"\nurl = "ble://{wrench.address}"\nsilence_seconds = "1"\n'
    async with devices(row(port="radio", unit="N·m"), port) as (_, store):
        await ready(store)
        await eventually_async(lambda: first.reads > 0, "it was asked whether it is there")
        assert store.states_of()[-1] == "ready"
        await first.stop()
        await eventually_async(lambda: "lost" in store.states_of(), "the loss is told")
    assert "silent" in store.states_of()
    assert store.told == ["gap"]
