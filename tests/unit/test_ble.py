"""Gauges on a radio: the real Bluetooth library on a simulated adapter."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterator
from pathlib import Path

import pytest

from capture.reading import Reading, Undecodable
from simulators.ble.bus import PrivateBus
from simulators.ble.daemon import Daemon
from simulators.ble.device import Characteristic, Device
from simulators.ble.gauges import (
    BATTERY,
    LENGTH,
    LINE_IN,
    LINE_OUT,
    NEWTON_METRE,
    TORQUE,
    VALUE,
    describing,
    industrial,
    integer,
    line,
)
from tests.ble import devices, needs_bus, row
from tests.fake_ports import Store
from tests.support import eventually_async

pytestmark = needs_bus

SECOND = "C2:00:00:00:00:09"


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


async def ready(store: Store, *names: str) -> None:
    wanted = names or ("mike",)
    await eventually_async(
        lambda: all(store.states_of(name)[-1:] == ["ready"] for name in wanted), "it is ready"
    )


async def told(store: Store, count: int) -> None:
    await eventually_async(lambda: len(store.items) >= count, f"{count} items are stored")


def press(daemon: Daemon, device: Device, uuid: str, value: bytes) -> None:
    assert daemon.notify(device, device.characteristic(uuid), value)


async def test_a_value_that_describes_itself_needs_no_profile(daemon: Daemon) -> None:
    gauge = daemon.add(describing())
    async with devices(row()) as (_, store):
        await ready(store)
        press(daemon, gauge, VALUE, integer(-12_345))
        await told(store, 1)

    reading = store.items[0]
    assert isinstance(reading, Reading)
    assert (reading.digits, reading.unit, reading.raw) == ("-0.012345", "m", integer(-12_345))
    details = [state.detail for state in store.states]
    assert details[:3] == [
        "opening ble://C2:00:00:00:00:01",
        "scanning for ble://C2:00:00:00:00:01",
        "connecting to ble://C2:00:00:00:00:01",
    ]
    assert details[3] == "on ble://C2:00:00:00:00:01, battery 80 %"
    assert store.states_of() == ["opening", "scanning", "connecting", "ready", "closed"]
    assert not gauge.connected


async def test_the_standard_characteristic_of_the_instruments_own_kind_is_read(
    daemon: Daemon,
) -> None:
    wrench = daemon.add(industrial())
    async with devices(row("wrench", f"ble://{wrench.address}", "N·m", "torque-wrench")) as (
        _,
        store,
    ):
        await ready(store, "wrench")
        press(daemon, wrench, TORQUE, integer(-1234))
        press(daemon, wrench, TORQUE, bytes.fromhex("ffffff7f"))
        press(daemon, wrench, TORQUE, b"\x01")
        await told(store, 3)
        assert not daemon.notify(wrench, wrench.characteristic(LENGTH), integer(5))

    assert store.told == ["-12.34", "not-known", "layout"]


async def test_lines_by_a_profile_survive_being_split_and_can_be_asked_for(
    daemon: Daemon, tmp_path: Path
) -> None:
    gauge = daemon.add(line())
    gauge.mtu = 23

    def answer(data: bytes) -> None:
        assert data == b"V\r"
        daemon.notify(gauge, gauge.characteristic(LINE_OUT), b"+2.000 mm\r")

    gauge.characteristic(LINE_IN).on_write = answer
    port = (
        f'[[port]]\nid = "radio"\nurl = "ble://{gauge.address}"\nnotify = "{LINE_OUT}"\n'
        f'write = "{LINE_IN}"\n'
    )
    (tmp_path / "lines.toml").write_text(
        '[frame]\nkind = "terminator"\nterminators = ["\\r"]\n'
        '[decode]\nkind = "text"\nlayout = "{sign}{number} {unit}"\n[request]\nsend = "V\\r"\n'
    )
    rows = row(port="radio", more='profile = "lines.toml"')
    async with devices(rows, port, folder=tmp_path) as (running, store):
        await ready(store)
        press(daemon, gauge, LINE_OUT, b"+0000000000001.000 mm\r")
        await told(store, 1)
        await running.ask("mike")

    assert store.told == ["1.000", "2.000"]
    assert any("battery low (15 %)" in state.detail for state in store.states)


async def test_a_drop_is_a_named_gap_and_nothing_doubles_afterwards(daemon: Daemon) -> None:
    gauge = daemon.add(describing())
    async with devices(row()) as (_, store):
        for round_ in range(3):
            await ready(store)
            for value in range(10):
                press(daemon, gauge, VALUE, integer(1000 * round_ + value))
            daemon.drop(gauge)
            await eventually_async(lambda: store.states_of()[-1] != "ready", "the loss is told")
            await eventually_async(lambda: store.told[-1] == "gap", "the gap is named")
        await ready(store)

    values = [item for item in store.items if isinstance(item, Reading)]
    gaps = [item for item in store.items if isinstance(item, Undecodable)]
    assert [int(item.value.scaleb(6)) for item in values] == [
        1000 * round_ + value for round_ in range(3) for value in range(10)
    ]
    assert [gap.code for gap in gaps] == ["gap"] * 3
    assert gaps[0].instrument == "mike"
    assert "out of reach" in gaps[0].detail


async def test_two_gauges_of_one_name_are_told_apart_by_address_alone(daemon: Daemon) -> None:
    daemon.add(describing())
    daemon.add(describing(SECOND))
    async with devices(row(port="ble://Invented%20gauge")) as (_, store):
        await eventually_async(lambda: "lost" in store.states_of(), "it is refused")
        lost = next(state.detail for state in store.states if state.state == "lost")
    assert "several devices are named Invented gauge: C2:00:00:00:00:01 and" in lost
    assert "write the address" in lost


async def test_a_name_keeps_the_device_it_was_found_at(daemon: Daemon) -> None:
    first = daemon.add(describing())
    async with devices(row(port="ble://Invented gauge")) as (_, store):
        await ready(store)
        daemon.vanish(first)
        twin = daemon.add(describing(SECOND))
        await eventually_async(
            lambda: store.states_of()[-1] == "scanning" and twin.present, "it is searched for"
        )
        first.on_air = True
        await ready(store)
        assert first.connected
        assert not twin.connected


async def test_one_scan_and_one_connection_at_a_time(daemon: Daemon) -> None:
    gauges = [daemon.add(describing(f"C2:00:00:00:01:0{n}", f"g{n}")) for n in range(6)]
    for gauge in gauges:
        gauge.advertisements = 3
    rows = [row(gauge.name, f"ble://{gauge.address}") for gauge in gauges]
    async with devices(*rows) as (_, store):
        await ready(store, *(gauge.name for gauge in gauges))
        for number, gauge in enumerate(gauges):
            press(daemon, gauge, VALUE, integer(number))
        await told(store, 6)
    assert daemon.connecting_at_once == 1
    assert daemon.scans_at_once == 1
    assert sorted(store.told) == ["0.000000", *(f"0.00000{n}" for n in range(1, 6))]


@pytest.mark.parametrize(
    ("member", "error", "says"),
    [
        ("StartDiscovery", ("org.bluez.Error.NotReady", "Resource Not Ready"), "switched off"),
        (
            "StartDiscovery",
            ("org.freedesktop.DBus.Error.AccessDenied", "Rejected send message"),
            "no permission",
        ),
        ("Connect", ("org.bluez.Error.Failed", "le-connection-timeout"), "connecting failed"),
        ("StartNotify", ("org.bluez.Error.Failed", "Not connected"), "subscribing failed"),
    ],
)
async def test_trouble_says_why_and_goes_by(
    daemon: Daemon, member: str, error: tuple[str, str], says: str
) -> None:
    gauge = daemon.add(describing())
    daemon.refusing[member] = error
    async with devices(row()) as (_, store):
        await eventually_async(lambda: "lost" in store.states_of(), "it is told")
        detail = next(state.detail for state in store.states if state.state == "lost")
        assert says in detail
        assert "trying again in" in detail
        daemon.refusing.clear()
        await ready(store)
        press(daemon, gauge, VALUE, integer(1))
        await told(store, 1)
    assert store.told == ["0.000001"]


async def test_a_connection_lost_before_the_services_are_known_is_made_again(
    daemon: Daemon,
) -> None:
    gauge = daemon.add(describing())
    gauge.drops_early = 2
    async with devices(row()) as (_, store):
        await ready(store)
        press(daemon, gauge, VALUE, integer(1))
        await told(store, 1)
    assert store.told == ["0.000001"]
    assert store.states_of().count("lost") == 2


async def test_a_subscription_that_hangs_is_given_up(
    daemon: Daemon, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("drivers.ble.link.TOUCH", 0.2)
    gauge = daemon.add(describing())
    daemon.hanging.add("StartNotify")
    async with devices(row()) as (_, store):
        await eventually_async(lambda: "lost" in store.states_of(), "it is told")
        assert "did not answer while subscribing" in store.states[-1].detail
        daemon.hanging.clear()
        await ready(store)
        press(daemon, gauge, VALUE, integer(1))
        await told(store, 1)
    assert store.told == ["0.000001"]


async def test_a_daemon_that_dies_is_noticed_and_its_return_too(
    bus: PrivateBus, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", bus.address)
    monkeypatch.setattr("drivers.ble.link.TOUCH", 0.3)
    first = Daemon(bus.address)
    await first.start()
    first.add(describing())
    port = '[[port]]\nid = "radio"\nurl = "ble://C2:00:00:00:00:01"\nsilence_seconds = "1"\n'
    async with devices(row(port="radio"), port) as (_, store):
        await ready(store)
        await first.stop()
        await eventually_async(lambda: "silent" in store.states_of(), "the silence is told")
        await eventually_async(lambda: "lost" in store.states_of(), "the loss is told")
        silent = next(state.detail for state in store.states if state.state == "silent")
        assert "silent" in silent
        assert "Bluetooth service is not running" in silent
        second = Daemon(bus.address)
        await second.start()
        gauge = second.add(describing())
        await ready(store)
        press(second, gauge, VALUE, integer(7))
        await eventually_async(lambda: store.told[-1] == "0.000007", "it is read again")
    assert store.told == ["gap", "0.000007"]
    await second.stop()


async def test_a_daemon_started_anew_is_noticed_with_a_gauge_that_can_be_asked_nothing(
    bus: PrivateBus, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It has no battery, no description and nothing to read: only the service itself can tell."""
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", bus.address)
    address = "C2:00:00:00:00:02"
    first = Daemon(bus.address)
    await first.start()
    first.add(industrial(address))
    port = f'[[port]]\nid = "radio"\nurl = "ble://{address}"\nsilence_seconds = "1"\n'
    async with devices(row(port="radio"), port) as (_, store):
        await ready(store)
        await first.stop()
        second = Daemon(bus.address)
        await second.start()
        second.add(industrial(address))
        await eventually_async(lambda: store.states_of().count("ready") == 2, "it is back")
        silent = next(state.detail for state in store.states if state.state == "silent")
        assert "the Bluetooth service was started anew" in silent
    assert store.told == ["gap"]
    await second.stop()


async def test_a_battery_that_runs_low_is_told_before_it_is_lost(daemon: Daemon) -> None:
    gauge = daemon.add(describing())
    level: Characteristic = gauge.characteristic(BATTERY)
    port = '[[port]]\nid = "radio"\nurl = "ble://C2:00:00:00:00:01"\nsilence_seconds = "1"\n'
    async with devices(row(port="radio"), port) as (_, store):
        await ready(store)
        level.value = bytes([20])
        await eventually_async(
            lambda: "battery low (20 %)" in store.states[-1].detail, "the battery is told"
        )
        assert store.states[-1].state == "ready"
    assert store.told == []


async def test_no_service_and_no_bus_are_said(
    bus: PrivateBus, monkeypatch: pytest.MonkeyPatch
) -> None:
    for address in (bus.address, "unix:path=/nonexistent/bus"):
        monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", address)
        async with devices(row()) as (_, store):
            await eventually_async(lambda: "lost" in store.states_of(), "it is told")
            detail = next(state.detail for state in store.states if state.state == "lost")
        assert "no Bluetooth LE adapter" in detail or "service is not running" in detail


async def test_a_unit_nothing_on_the_device_measures_is_said(daemon: Daemon) -> None:
    daemon.add(describing(unit=NEWTON_METRE))
    async with devices(row()) as (_, store):
        await eventually_async(lambda: "lost" in store.states_of(), "it is told")
        detail = next(state.detail for state in store.states if state.state == "lost")
    assert "offers nothing that describes itself in a unit like mm" in detail
