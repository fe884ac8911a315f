"""Bursts, and the port that was pressed: on real pseudo-terminals and the simulated radio."""

from __future__ import annotations

import asyncio
import contextlib
import os
import tty
from collections.abc import AsyncIterator, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from drivers.bench import Bench, parse_bench
from drivers.ble.radio import Radio
from drivers.reach import bursts, watch
from drivers.reach.bursts import Burst, Bursts, shown
from drivers.reach.known import Known
from drivers.reach.survey import Heard, survey
from drivers.reach.watch import Place, Press, Watch, Watcher
from drivers.transports.opening import open_serial
from drivers.transports.ports import PortInfo
from drivers.transports.settings import PortSettings
from simulators.ble.bus import PrivateBus
from simulators.ble.daemon import Daemon
from simulators.ble.gauges import LINE_OUT, TORQUE, VALUE, describing, industrial, integer, line
from tests.ble import end_library, needs_bus
from tests.support import eventually_async

# bursts -----------------------------------------------------------------------------------------


async def cut(*chunks: bytes, gap: float = 0.02) -> list[Burst]:
    """What is cut out of chunks that come at once."""
    done: list[Burst] = []
    cutter = Bursts(gap, done.append, lambda: "now")
    for chunk in chunks:
        cutter.take(chunk)
    await eventually_async(lambda: bool(done), "the silence has lasted long enough")
    return done


async def test_what_comes_together_is_one_burst() -> None:
    assert await cut(b"25.", b"400\r\n") == [Burst("now", b"25.400\r\n", None, True)]


async def test_each_source_has_its_own_silence_and_the_end_hands_on_what_is_there() -> None:
    done: list[Burst] = []
    cutter = Bursts(60.0, done.append, lambda: "now")
    cutter.take(b"a", "one")
    cutter.take(b"b", "two")
    cutter.take(b"c", "one")
    cutter.end()
    assert done == [Burst("now", b"ac", "one", True), Burst("now", b"b", "two", True)]
    cutter.end()
    assert len(done) == 2


async def test_what_never_falls_silent_is_handed_on_in_pieces(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    done: list[Burst] = []
    cutter = Bursts(60.0, done.append, lambda: "now")
    cutter.take(bytes(bursts.LONGEST))
    assert [(len(burst.raw), burst.whole) for burst in done] == [(bursts.LONGEST, False)]
    monkeypatch.setattr(bursts, "OLDEST", 0.0)
    cutter.take(b"x")
    assert done[-1] == Burst("now", b"x", None, False)


@pytest.mark.parametrize(
    ("raw", "text"),
    [
        (b"25.400\r\n", "25.400\\r\\n"),
        (b"\x02\x10", "02 10"),
        (b"\r\n", "0d 0a"),
        (b"9" * 60, "9" * 48 + "…"),
    ],
)
def test_bytes_are_shown_as_text_where_they_are_text(raw: bytes, text: str) -> None:
    assert shown(raw) == text


# watching ---------------------------------------------------------------------------------------


class Ear(Watcher):
    """Keeps what it is told."""

    def __init__(self) -> None:
        self.places: dict[str, Place] = {}
        self.states: list[tuple[str, str]] = []
        self.presses: list[Press] = []
        super().__init__(
            lambda place: self.places.update({place.port: place}),
            lambda port, words: self.states.append((port, words)),
            self.presses.append,
        )

    async def listens(self, port: str) -> None:
        await eventually_async(lambda: (port, "") in self.states, f"{port} is listened to")

    async def has(self, count: int) -> list[Press]:
        await eventually_async(lambda: len(self.presses) >= count, f"{count} presses came")
        return self.presses


@contextlib.asynccontextmanager
async def watching(
    ports: list[PortInfo], bench: Bench | None = None, seconds: float | None = None
) -> AsyncIterator[Ear]:
    ear = Ear()
    with ThreadPoolExecutor(4) as executor:
        work = Watch(
            ear, executor, Known(bench), PortSettings("", ""), ports=lambda: ports, seconds=seconds
        ).run()
        task = asyncio.ensure_future(work)
        try:
            yield ear
        finally:
            task.cancel()
            await asyncio.gather(task, return_exceptions=True)


@pytest.fixture(autouse=True)
def short(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(watch, "AGAIN", 0.02)


@pytest.fixture
def terminals() -> Iterator[list[tuple[int, str]]]:
    """Two pseudo-terminals: our side, and the name of the other."""
    made = []
    for _ in range(2):
        ours, theirs = os.openpty()
        tty.setraw(theirs)
        made.append((ours, os.ttyname(theirs)))
        os.close(theirs)
    yield made
    for ours, _ in made:
        os.close(ours)


ROW = '[[instrument]]\nid = "{id}"\nkind = "gauge"\nport = "{port}"\nunit = "mm"\n' \
    'resolution = "0.001"\nprofile = "decimal-line"\n'  # fmt: skip


async def test_the_port_that_was_pressed_is_told_with_its_bytes(
    terminals: list[tuple[int, str]],
) -> None:
    (first, one), (second, two) = terminals
    bench = parse_bench(ROW.format(id="mike", port=two), "b.toml", Path())
    async with watching([PortInfo(one, description="a cable"), PortInfo(two)], bench) as ear:
        await ear.listens(one)
        await ear.listens(two)
        os.write(first, b"1.000\r\n")
        await ear.has(1)
        os.write(second, b"25.400\r\n")
        presses = await ear.has(2)

    assert ear.places == {one: Place(one, "a cable", ()), two: Place(two, "", ("mike",))}
    assert [(press.port, press.burst.raw, press.readings) for press in presses] == [
        (one, b"1.000\r\n", ()),  # nobody said how it is read
        (two, b"25.400\r\n", ("25.400 mm",)),
    ]


async def test_a_port_plugged_in_later_is_listened_to_too(
    terminals: list[tuple[int, str]],
) -> None:
    ours, name = terminals[0]
    ports: list[PortInfo] = []
    async with watching(ports) as ear:
        ports.append(PortInfo(name))
        await ear.listens(name)
        os.write(ours, b"7")
        assert (await ear.has(1))[0].burst.raw == b"7"


async def test_a_busy_port_says_so_and_by_whom_and_is_listened_to_once_it_is_free(
    terminals: list[tuple[int, str]],
) -> None:
    _, name = terminals[0]
    held = open_serial(PortSettings("p", name), name)
    async with watching([PortInfo(name)]) as ear:
        await eventually_async(lambda: bool(ear.states), "it is refused")
        assert ear.states[0][1].startswith(f"cannot open {name}: this very program has it open")
        assert f"process {os.getpid()}" in ear.states[0][1]
        held.close()
        await ear.listens(name)


async def test_a_bench_port_that_is_not_plugged_in_is_a_row_that_says_so() -> None:
    bench = parse_bench(ROW.format(id="mike", port="/dev/ttyUSB77"), "b.toml", Path())
    async with watching([], bench) as ear:
        await eventually_async(lambda: bool(ear.states), "it is told")
    assert ear.places["/dev/ttyUSB77"].instruments == ("mike",)
    assert "there is no such port; plug the cable in" in ear.states[0][1]


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
    await end_library()
    await started.stop()
    assert started.refused == []


@needs_bus
async def test_every_notifying_characteristic_of_radios_near_by_is_heard(daemon: Daemon) -> None:
    gauge, wrench, text = daemon.add(describing()), daemon.add(industrial()), daemon.add(line())
    async with watching([], seconds=0.2) as ear:
        for device in (gauge, wrench, text):
            await ear.listens(f"ble://{device.address}")
        assert daemon.notify(gauge, gauge.characteristic(VALUE), integer(-7))
        await ear.has(1)
        assert daemon.notify(wrench, wrench.characteristic(TORQUE), integer(1234))
        await ear.has(2)
        assert daemon.notify(text, text.characteristic(LINE_OUT), b"+1.000 mm\r")
        presses = await ear.has(3)
    assert [(press.port, press.burst.source, press.readings) for press in presses] == [
        (f"ble://{gauge.address}", VALUE, ("-0.000007 m",)),
        (f"ble://{wrench.address}", TORQUE, ("12.34 N·m",)),
        (f"ble://{text.address}", LINE_OUT, ()),
    ]
    assert daemon.connecting_at_once == 1
    assert not any(device.connected for device in (gauge, wrench, text))


@needs_bus
async def test_a_radio_that_drops_is_told_and_heard_again(daemon: Daemon) -> None:
    gauge = daemon.add(describing())
    port = f"ble://{gauge.address}"
    async with watching([], seconds=0.1) as ear:
        await ear.listens(port)
        daemon.drop(gauge)
        await eventually_async(lambda: ear.states.count((port, "")) == 2, "it is heard again")
        assert any("out of reach" in words for _, words in ear.states)
        assert daemon.notify(gauge, gauge.characteristic(VALUE), integer(1))
        await ear.has(1)
        assert daemon.notify(gauge, gauge.characteristic(VALUE), integer(2))
        presses = await ear.has(2)
    assert [press.readings for press in presses] == [("0.000001 m",), ("0.000002 m",)]


@needs_bus
async def test_bluetooth_that_cannot_be_used_is_told_once_and_leaves_cables_alone(
    bus: PrivateBus, monkeypatch: pytest.MonkeyPatch, terminals: list[tuple[int, str]]
) -> None:
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", bus.address)
    scans: list[float] = []

    async def counted(on: Radio, seconds: float) -> list[Heard]:
        scans.append(seconds)
        return await survey(on, seconds)

    monkeypatch.setattr(watch, "survey", counted)
    ours, name = terminals[0]
    async with watching([PortInfo(name)], seconds=0.1) as ear:
        await eventually_async(lambda: len(scans) >= 3, "it was tried again")
        await ear.listens(name)
        os.write(ours, b"7")
        await ear.has(1)
    said = [words for port, words in ear.states if port == "Bluetooth"]
    assert len(said) == 1
    assert "the Bluetooth service is not running; start it" in said[0]
