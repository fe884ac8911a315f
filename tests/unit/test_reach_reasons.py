"""Why Bluetooth cannot be used: each reason has its own words, found out with the real library."""

from __future__ import annotations

import asyncio
import signal
from collections.abc import AsyncIterator, Callable, Iterator
from pathlib import Path

import pytest

from capture.errors import TransportError
from drivers.ble import blocked, permission, trouble
from drivers.ble.blocked import blocked as what_blocks
from drivers.ble.radio import Radio
from drivers.ble.trouble import why
from drivers.reach.survey import survey
from simulators.ble import tell
from simulators.ble.bus import PrivateBus
from simulators.ble.daemon import Daemon
from simulators.ble.gauges import VALUE, describing, integer
from tests.ble import devices, end_library, needs_bus, row
from tests.support import eventually_async

pytestmark = needs_bus

SWITCH_ON = "switch it on: rfkill unblock bluetooth, then bluetoothctl power on"
DENIED = ("org.freedesktop.DBus.Error.AccessDenied", "Rejected send message")


@pytest.fixture(scope="module")
def bus() -> Iterator[PrivateBus]:
    started = PrivateBus()
    yield started
    started.stop()


@pytest.fixture(autouse=True)
def this_system(bus: PrivateBus, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A user in no group, and a system that does not tell whether radios are blocked."""
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", bus.address)
    monkeypatch.setattr(trouble, "is_member", lambda _: False)
    monkeypatch.setattr(blocked, "SYS", str(tmp_path))


@pytest.fixture
async def started(bus: PrivateBus) -> AsyncIterator[Callable[..., Daemon]]:
    """Makes a daemon, which is to be started by the test and is stopped afterwards."""
    made: list[Daemon] = []

    def make(**settings: bool) -> Daemon:
        made.append(Daemon(bus.address, **settings))
        return made[-1]

    yield make
    for daemon in made:
        await daemon.stop()


async def reason() -> tuple[str, str]:
    """What a scan says, and the mend."""
    try:
        with pytest.raises(TransportError) as refused:
            await survey(Radio(), 0.05)
    finally:
        await end_library()
    return str(refused.value), refused.value.mend


Make = Callable[..., Daemon]


async def test_no_adapter(started: Make) -> None:
    await started(adapter=False).start()
    assert await reason() == (
        "Bluetooth cannot be used: this computer has no Bluetooth LE adapter",
        "plug a Bluetooth LE adapter in, or use this instrument's cable",
    )


async def test_an_adapter_without_low_energy(
    started: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = tell.adapter

    def old(powered: bool, discovering: bool) -> tell.Properties:
        from dbus_fast import Variant

        return {**plain(powered, discovering), "Roles": Variant("as", ["peripheral"])}

    monkeypatch.setattr(tell, "adapter", old)
    await started().start()
    assert (await reason())[0].endswith("no Bluetooth LE adapter")


async def test_the_radio_is_off(started: Make) -> None:
    daemon = started()
    daemon.powered = False
    await daemon.start()
    what = "Bluetooth cannot be used: the Bluetooth radio is switched off"
    assert await reason() == (what, SWITCH_ON)


@pytest.mark.parametrize(
    ("hard", "soft", "mend"),
    [
        ("1", "0", "switch it on with the computer's own switch or key for radios (flight mode)"),
        ("0", "1", SWITCH_ON),
        ("0", "0", "switch it on: bluetoothctl power on"),
    ],
)
async def test_what_switched_the_radio_off_is_told_apart(
    started: Make, tmp_path: Path, hard: str, soft: str, mend: str
) -> None:
    for number, kind in enumerate(("wlan", "bluetooth")):
        folder = tmp_path / f"class/rfkill/rfkill{number}"
        folder.mkdir(parents=True)
        (folder / "type").write_text(f"{kind}\n")
        (folder / "hard").write_text(f"{hard}\n" if kind == "bluetooth" else "0\n")
        (folder / "soft").write_text(f"{soft}\n" if kind == "bluetooth" else "1\n")
    daemon = started()
    daemon.powered = False
    await daemon.start()
    assert (await reason())[1] == mend


def test_a_system_that_tells_nothing_of_blocks(tmp_path: Path) -> None:
    assert what_blocks(str(tmp_path)) == "unknown"


async def test_the_service_is_not_running() -> None:
    """The system's bus is there, and nobody has the name org.bluez on it."""
    assert await reason() == (
        "Bluetooth cannot be used: the Bluetooth service is not running",
        "start it: sudo systemctl enable --now bluetooth (Debian package bluez)",
    )


async def test_there_is_no_system_bus(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", "unix:path=/nonexistent/bus")
    what, mend = await reason()
    assert what == (
        "Bluetooth cannot be used: the Bluetooth service is not running (there is no system bus)"
    )
    assert "sudo systemctl enable --now dbus bluetooth" in mend
    assert "in a container, let the computer's /run/dbus in" in mend


@pytest.mark.parametrize("member", ["GetManagedObjects", "StartDiscovery"])
async def test_no_permission(started: Make, member: str, monkeypatch: pytest.MonkeyPatch) -> None:
    daemon = started()
    daemon.refusing[member] = DENIED
    await daemon.start()
    what = "Bluetooth cannot be used: there is no permission to use Bluetooth"
    assert await reason() == (
        what,
        "let your user into the group bluetooth: sudo usermod -aG bluetooth $USER, then log out "
        "and in again (a service: restart it)",
    )
    monkeypatch.setattr(trouble, "is_member", lambda _: True)
    assert "perhaps since you logged in: log out and in again" in (await reason())[1]


async def test_a_service_that_does_not_answer(
    started: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("drivers.reach.survey._SWITCHING", 0.2)
    daemon = started()
    daemon.hanging.add("StartDiscovery")
    await daemon.start()
    what, mend = await reason()
    assert what == "Bluetooth cannot be used: the Bluetooth service does not answer"
    assert "sudo systemctl restart bluetooth" in mend


async def test_each_reason_is_a_device_state_and_goes_by(started: Make) -> None:
    daemon = started()
    gauge = daemon.add(describing())
    daemon.powered = False
    async with devices(row()) as (_, store):
        await eventually_async(
            lambda: any(
                "the Bluetooth service is not running; start it" in state.detail
                for state in store.states
            ),
            "that the service is not running is told",
        )
        await daemon.start()
        await eventually_async(
            lambda: any("radio is switched off" in state.detail for state in store.states),
            "that the radio is off is told",
        )
        daemon.powered = True
        await end_library()  # the library learns of the switch by a signal the simulation lacks
        await eventually_async(lambda: store.states_of()[-1] == "ready", "it is ready")
        assert daemon.notify(gauge, gauge.characteristic(VALUE), integer(7))
        await eventually_async(lambda: store.told == ["0.000007"], "it is read")


def test_what_one_device_refuses_is_no_trouble_of_all_bluetooth() -> None:
    class Refused(Exception):
        dbus_error = "org.bluez.Error.NotPermitted"

    told = trouble.trouble("ble://g", "subscribing", Refused("Not paired"), "linux")
    assert str(told) == "ble://g: subscribing was refused: it wants to be paired first"
    assert "pair" in told.mend
    assert why(Refused("Not paired"), "linux") is None
    other = trouble.trouble("ble://g", "writing", Refused("Write not permitted"), "linux")
    assert "writing failed (Write not permitted)" in str(other)


# a system that ends whoever asks without permission -----------------------------------------------

DIES = ("-c", f"import os; os.kill(os.getpid(), {int(signal.SIGABRT)})")


async def test_a_system_that_ends_the_asker_ends_a_child_and_the_service_goes_on(
    started: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    daemon = started()
    daemon.add(describing())
    await daemon.start()
    monkeypatch.setattr(permission, "PLATFORM", "darwin")
    monkeypatch.setattr(permission, "ASK", DIES)
    async with devices(row()) as (_, store):
        await eventually_async(lambda: "lost" in store.states_of(), "it is told")
        detail = next(state.detail for state in store.states if state.state == "lost")
        assert detail.startswith(
            "cannot reach ble://C2:00:00:00:00:01: there is no permission to use Bluetooth; "
            "allow it in System Settings, Privacy & Security, Bluetooth; trying again in"
        )
        assert not daemon.scans_at_once, "this process asked all the same"
        monkeypatch.setattr(permission, "ASK", ("-c", "pass"))  # the person has allowed it
        await eventually_async(lambda: store.states_of()[-1] == "ready", "it is ready")


async def test_one_child_asks_for_all_and_none_once_it_was_let_through(tmp_path: Path) -> None:
    log = tmp_path / "asked"
    ask = ("-c", f"open({str(log)!r}, 'a').write('x')", str(log))
    await asyncio.gather(*(permission.ask_first("ble://g", "darwin", ask) for _ in range(5)))
    assert log.read_text() == "x"
    await permission.ask_first("ble://g", "linux", DIES)
    for _ in range(2):
        with pytest.raises(TransportError, match="there is no permission to use Bluetooth"):
            await permission.ask_first("ble://g", "darwin", DIES)


async def test_a_child_that_waits_for_the_person_is_ended_and_nothing_is_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(permission, "PATIENCE", 0.3)
    await permission.ask_first("ble://g", "darwin", ("-c", "import time; time.sleep(60)"))


async def test_a_survey_asks_in_a_child_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(permission, "PLATFORM", "darwin")
    monkeypatch.setattr(permission, "ASK", DIES)
    what, mend = await reason()
    assert what == "Bluetooth cannot be used: there is no permission to use Bluetooth"
    assert "Privacy & Security" in mend
