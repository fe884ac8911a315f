"""A port that types: opened for itself alone, read from recorded events, lost and found again."""

from __future__ import annotations

import asyncio
import contextlib
import errno
import os
import sys
from collections.abc import AsyncIterator, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from capture.clock import SystemClock
from capture.errors import PortGone, RequestError, TransportError
from capture.reading import Reading, Undecodable
from drivers.bench import Bench, parse_bench
from drivers.devices import Devices
from drivers.keys.attached import Attached
from drivers.keys.keyboard import EVIOCGNAME, EVIOCGRAB, Keyboard
from drivers.keys.opening import Keyboards, open_keys
from drivers.transports.settings import PortSettings
from tests.fake_ports import Store
from tests.key_events import DROPPED, REPORT, Node, node, typed
from tests.running import BENCH, client, opened_build, service
from tests.support import eventually_async

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no FIFOs on Windows")

PATH = "/dev/input/by-id/usb-invented-gauge-event-kbd"


def bench(port: str = PATH, more: str = "") -> Bench:
    text = (
        f'[[instrument]]\nid = "mike"\nkind = "micrometer"\nport = "{port}"\n'
        f'profile = "decimal-line"\nunit = "mm"\nresolution = "0.001"\n{more}'
    )
    return parse_bench(text, "b.toml", Path())


def keyboards(recorded: Node, settling: float = 0.0) -> Keyboards:
    return Keyboards(recorded.open, settling=settling)


@contextlib.asynccontextmanager
async def running(of: Bench, opener: Keyboards) -> AsyncIterator[tuple[Store, Devices]]:
    async def sleep(_: float) -> None:
        await asyncio.sleep(0.01)

    store = Store()
    devices = Devices(of, store, SystemClock(), keyboards=opener, sleep=sleep)
    await devices.start()
    try:
        yield store, devices
    finally:
        await devices.stop()


async def reached(devices: Devices, state: str) -> None:
    await eventually_async(
        lambda: [one.state for one in devices.states()] == [state], f"state {state}"
    )


@pytest.fixture
def recorded(tmp_path: Path) -> Iterator[Node]:
    with node(tmp_path) as made:
        yield made


async def test_recorded_keys_become_a_reading(recorded: Node) -> None:
    async with running(bench(), keyboards(recorded)) as (store, devices):
        await reached(devices, "ready")
        assert recorded.opened[0].grabbed
        recorded.put(typed("25.400 mm\n"))

        await eventually_async(lambda: len(store.items) == 1, "a reading")

        reading = store.items[0]
        assert isinstance(reading, Reading)
        assert (reading.instrument, reading.digits, reading.unit) == ("mike", "25.400", "mm")
        assert reading.raw == b"25.400 mm\n"
    assert recorded.opened[0].closed
    assert not recorded.opened[0].grabbed


async def test_a_typed_reading_answers_the_step_that_waits(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    gauge = BENCH.replace('port = "typed"', 'port = "keys:Gauge"\nprofile = "decimal-line"', 1)
    (tmp_path / "bench.toml").write_text(gauge, "utf-8")
    with node(tmp_path) as recorded:
        there = [found(7, "Gauge")]
        opener = Keyboards(recorded.open, lambda: there, settling=0.0)
        monkeypatch.setattr("drivers.keys.opening.Keyboards", lambda: opener)
        async with service(tmp_path) as listening, client(listening) as http:
            build = await opened_build(http)
            await reached(listening.service.devices, "ready")

            recorded.put(typed("25.001\n"))

            archive = listening.service.pipeline.archive
            await eventually_async(lambda: bool(archive.readings().items), "a reading")
            stored = (await http.get("/v1/readings")).json()["readings"][0]
            assert (stored["instrument"], stored["value"]) == ("mic-1", "25.001")
            assert not stored["typed"]  # by a person, that is
            assert stored["verdict"]["result"] == "conforming"
            assert (await http.get(f"/v1/builds/{build}")).json()["steps_done"] == 1


async def test_keys_in_any_pieces(recorded: Node) -> None:
    async with running(bench(), keyboards(recorded)) as (store, devices):
        await reached(devices, "ready")
        data = typed("-1.250\n")
        for at in range(0, len(data), 17):
            recorded.put(data[at : at + 17])
            await asyncio.sleep(0)

        await eventually_async(lambda: store.told == ["-1.250"], "the reading")


async def test_a_device_that_vanishes_is_opened_again_and_half_a_message_is_kept(
    recorded: Node, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with running(bench(), keyboards(recorded)) as (store, devices):
        await reached(devices, "ready")
        recorded.put(typed("1.5"))
        await eventually_async(recorded.empty, "read")
        gone = recorded.opened[0].fileno()
        real = os.read

        def read(fd: int, size: int) -> bytes:
            if fd == gone and not recorded.opened[0].closed:
                raise OSError(errno.ENODEV, "No such device")
            return real(fd, size)

        monkeypatch.setattr("drivers.transports.selected.os.read", read)
        recorded.put(REPORT)
        await eventually_async(lambda: len(recorded.opened) == 2, "opened again")
        await reached(devices, "ready")
        # what nobody has read is still in this FIFO, but for a device that is no longer there
        recorded.put(typed("2.5\n"))
        await eventually_async(lambda: store.told[-1:] == ["2.5"], "the next reading")

        assert "incomplete" in store.told
        lost = [state for state in store.states if state.state == "lost"]
        assert lost
        assert "vanished" in lost[0].detail
        assert "plug" in lost[0].detail


async def test_lost_events_are_a_named_gap_in_the_record(recorded: Node) -> None:
    async with running(bench(), keyboards(recorded)) as (store, devices):
        await reached(devices, "ready")
        recorded.put(typed("1.5") + DROPPED + REPORT + typed("7\n2.500\n"))

        await eventually_async(lambda: len(store.items) == 2, "two items")

        assert store.told == ["events-lost", "2.500"]
        lost = store.items[0]
        assert isinstance(lost, Undecodable)
        assert lost.raw == b"1.5<events-lost>7\n"


async def test_what_was_being_typed_when_it_was_opened_is_no_reading(recorded: Node) -> None:
    """The second half of a number is a number too."""
    async with running(bench(), keyboards(recorded, settling=60.0)) as (store, devices):
        await reached(devices, "ready")
        recorded.put(typed("25."))
        await eventually_async(recorded.empty, "read")
        recorded.put(typed("400\n1.5\n"))

        await eventually_async(lambda: len(store.items) == 2, "two items")

        assert store.told == ["opened-midway", "1.5"]


async def test_it_cannot_be_asked(recorded: Node) -> None:
    async with running(bench(), keyboards(recorded)) as (_, devices):
        await reached(devices, "ready")
        with pytest.raises(RequestError, match="has no request"):
            await devices.ask("mike")
    with ThreadPoolExecutor() as executor:
        transport = await open_keys(PortSettings("a", PATH), PATH, executor, keyboards(recorded))
        with pytest.raises(TransportError, match="can be asked nothing"):
            transport.write(b"V")
        await transport.close()


async def refused(opener: Keyboards, device: str = PATH) -> TransportError:
    with ThreadPoolExecutor() as executor, pytest.raises(TransportError) as caught:
        await open_keys(PortSettings("a", device), device, executor, opener)
    return caught.value


async def test_a_device_that_another_program_has_for_itself(recorded: Node) -> None:
    recorded.trouble = OSError(errno.EBUSY, "Device or resource busy")

    error = await refused(keyboards(recorded))

    assert "another program has it for itself" in str(error)
    assert "close that program" in error.mend
    assert recorded.opened[0].closed


async def test_a_device_that_cannot_be_had_alone_is_not_read(recorded: Node) -> None:
    recorded.trouble = OSError(errno.ENOTTY, "Inappropriate ioctl for device")

    assert "no input device" in str(await refused(keyboards(recorded)))
    assert recorded.opened[0].closed
    # and so says the system of a FIFO when it is asked what an input device answers
    real = await refused(Keyboards(lambda _: Keyboard(str(recorded.path))))
    assert "no input device" in str(real)


def test_what_an_input_device_is_asked_and_answers(
    recorded: Node, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The answers are laid out as the kernel's include/uapi/linux/input.h says: text with a zero
    at its end, and one bit for each key, the lowest first."""
    given: list[tuple[int, object]] = []

    def ioctl(fd: int, request: int, argument: bytearray | int) -> int:
        given.append((request, argument))
        if isinstance(argument, bytearray):
            answer = b"Gauge\0?" if request == EVIOCGNAME else bytes([0, 0b1100, 0, 0x80])
            argument[: len(answer)] = answer
        return 0

    monkeypatch.setattr("fcntl.ioctl", ioctl)
    keyboard = Keyboard(str(recorded.path))
    assert keyboard.name() == "Gauge"
    assert keyboard.keys() == {10, 11, 31}
    keyboard.grab()
    keyboard.close()

    assert given[2:] == [(EVIOCGRAB, 1), (EVIOCGRAB, 0)]
    with pytest.raises(OSError, match="Bad file descriptor"):
        os.fstat(keyboard.fileno())


async def test_a_mouse_is_no_keyboard(recorded: Node) -> None:
    recorded.keys = [0x110, 0x111]

    error = await refused(keyboards(recorded))

    assert "'Invented Gauge Keyboard' has no digit keys" in str(error)
    assert recorded.opened[0].closed


async def test_no_permission_names_the_rule_for_this_device() -> None:
    def open_node(path: str) -> Keyboard:
        raise PermissionError(errno.EACCES, "Permission denied", path)

    error = await refused(Keyboards(open_node))

    assert "no permission" in str(error)
    for word in ("70-gauges.rules", 'TAG+="uaccess"', "usermod -aG input", "every other keyboard"):
        assert word in error.mend


async def test_a_device_that_is_not_there(tmp_path: Path) -> None:
    error = await refused(Keyboards(lambda path: Keyboard(str(tmp_path / "none"))))

    assert isinstance(error, PortGone)
    assert "/dev/input/by-id" in error.mend


@pytest.mark.parametrize("platform", ["win32", "darwin"])
async def test_elsewhere_the_bench_page_takes_its_place(platform: str) -> None:
    error = await refused(Keyboards(platform=platform))

    assert "Linux" in str(error)
    assert "bench page" in error.mend


DIGITS = frozenset(range(2, 12))


def found(number: int, name: str, keys: frozenset[int] = DIGITS) -> Attached:
    path = f"/dev/input/event{number}"
    return Attached(path, f"/dev/input/by-id/{number}", name, keys, ("1234", "abcd"))


async def test_a_device_is_found_by_its_name(recorded: Node) -> None:
    opened: list[str] = []

    def open_node(path: str) -> Keyboard:
        opened.append(path)
        return recorded.open(path)

    there = [found(1, "Other"), found(2, "Gauge 3", frozenset({113})), found(4, "Gauge 3")]
    with ThreadPoolExecutor() as executor:
        found_by_name = Keyboards(open_node, lambda: there)
        transport = await open_keys(
            PortSettings("a", "keys:Gauge 3"), "keys:Gauge 3", executor, found_by_name
        )
        assert transport.device == "keys:Gauge 3 (/dev/input/event4)"
        await transport.close()
    assert opened == ["/dev/input/event4"]


async def test_a_name_that_two_devices_have_or_none() -> None:
    two = Keyboards(devices=lambda: [found(1, "Gauge"), found(2, "Gauge")])

    assert "/dev/input/by-id/1 or /dev/input/by-id/2" in (await refused(two, "keys:Gauge")).mend
    assert isinstance(await refused(two, "keys:Gauges"), PortGone)


async def test_what_is_opened_too_late_is_closed(recorded: Node) -> None:
    with ThreadPoolExecutor() as executor:
        opening = asyncio.ensure_future(
            open_keys(PortSettings("a", PATH), PATH, executor, keyboards(recorded))
        )
        await asyncio.sleep(0)
        opening.cancel()
        with pytest.raises(asyncio.CancelledError):
            await opening
        await eventually_async(
            lambda: [one.closed for one in recorded.opened] == [True], "closed again"
        )
