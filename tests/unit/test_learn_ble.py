"""An unknown gauge on a radio: the real Bluetooth library on a simulated adapter."""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections.abc import AsyncIterator, Callable, Iterator
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner

from api.cli import root
from drivers.bench import parse_bench
from drivers.learn.hear import Heard, Ready
from drivers.learn.hear_ble import BleEar, Notifications
from drivers.learn.hear_which import Pressed, judged
from drivers.learn.learn import decoded
from drivers.profiles.load import parse_profile
from simulators.ble.bus import PrivateBus
from simulators.ble.daemon import Daemon
from simulators.ble.device import Characteristic, Device, Service, short
from simulators.ble.gauges import (
    BATTERY,
    LENGTH,
    LINE_IN,
    LINE_OUT,
    VALUE,
    describing,
    industrial,
    line,
)
from simulators.ble.gauges import integer as value_of
from tests.ble import end_library, needs_bus

HIGHEST = "3a1f0021-7c52-4be8-8a10-52d8f1a90c11"
COUNTER = "3a1f0022-7c52-4be8-8a10-52d8f1a90c11"
SAID = ("0 mm", "100 mm", "63.17 mm", "-20.05 mm", "25.4 mm")


def text(size: Decimal) -> bytes:
    return f"{size:+08.2f} mm\r\n".encode()


def counts(size: Decimal) -> bytes:
    return b"\x5a" + int(size * 100).to_bytes(4, "little", signed=True) + b"\xa7"


def with_others(*more: str, battery: int = 15) -> Device:
    """A gauge that sends lines, with other characteristics that send too."""
    gauge = line()
    gauge.services[0].characteristics += [Characteristic(uuid, ("notify",)) for uuid in more]
    level = Characteristic(BATTERY, ("read", "notify"), bytes([battery]))
    gauge.services[1] = Service(short(0x180F), [level])
    return gauge


# ── pure: which characteristic ───────────────────────────────────────────────────────────────────


def presses(**writes: Callable[[Decimal], bytes]) -> list[Pressed]:
    return [
        Pressed(said, {name: write(Decimal(said.split()[0])) for name, write in writes.items()})
        for said in SAID
    ]


def test_the_characteristic_that_says_the_size_is_named() -> None:
    found = judged(presses(value=counts, other=lambda size: b"\x01\x02\x03\x04"))
    assert found.learned.sure, found.learned.reasons
    assert found.characteristic == "value"
    assert any("other also sends at a press" in line for line in found.learned.found)


def test_two_that_both_fit_are_not_told_apart_until_a_press_does() -> None:
    highest = Decimal(-1000)

    def peak(size: Decimal) -> bytes:
        nonlocal highest
        highest = size if size < 0 else max(size, highest)
        return text(highest)

    rising = ("0 mm", "10 mm", "25.4 mm", "63.17 mm", "-20.05 mm")
    pressed = [
        Pressed(said, {"value": text(size), "highest": peak(size)})
        for said in rising
        for size in [Decimal(said.split()[0])]
    ]
    found = judged(pressed)
    assert not found.learned.sure
    assert found.characteristic is None
    assert "value, highest" in found.learned.reasons[0]
    assert found.learned.next_press is not None
    assert "smaller than the one before" in found.learned.next_press
    highest = Decimal(100)
    more = Pressed("12.5 mm", {"value": text(Decimal("12.5")), "highest": peak(Decimal("12.5"))})
    found = judged([*pressed, more])
    assert found.learned.sure, found.learned.reasons
    assert found.characteristic == "value"


def test_one_that_was_silent_at_a_press_is_not_certain() -> None:
    pressed = presses(value=text)
    pressed.append(Pressed("50 mm", {"other": b"\x01"}))
    found = judged(pressed)
    assert not found.learned.sure
    assert "sent nothing at press 6" in found.learned.reasons[0]


def test_what_sends_between_presses_does_so_by_itself() -> None:
    heard = Notifications()
    for second in range(4):
        heard.heard("counter", bytes([second]), float(second))
    heard.begin()
    assert heard.by_itself == {"counter"}
    heard.heard("counter", b"\x05", 5.0)
    assert not heard.ended(6.0)
    heard.heard("value", b"1", 6.0)
    heard.heard("value", b"2", 6.1)
    assert not heard.ended(6.3)
    assert heard.ended(6.6)
    assert heard.take() == {"counter": b"\x05", "value": b"12"}


# ── on the simulated adapter ─────────────────────────────────────────────────────────────────────


@pytest.fixture(scope="module")
def bus() -> Iterator[PrivateBus]:
    started = PrivateBus()
    yield started
    started.stop()


@pytest.fixture
async def daemon(bus: PrivateBus, monkeypatch: pytest.MonkeyPatch) -> AsyncIterator[Daemon]:
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", bus.address)
    monkeypatch.setattr("drivers.learn.hear_ble.SILENCE", 0.1)
    monkeypatch.setattr("api.cli.learn_radio.QUIET", 0.4)
    started = Daemon(bus.address)
    await started.start()
    yield started
    await started.stop()
    assert started.refused == []


class Hand:
    """Presses a radio gauge whenever the learner listens."""

    def __init__(self, patch: pytest.MonkeyPatch, press: Callable[[Decimal], object]) -> None:
        self.said: list[str] = []
        self.now = ""
        self.presses = 0
        self._loop = asyncio.get_running_loop()
        self._press = press
        original, end = BleEar.press, BleEar._end
        hand = self

        def heard(ear: BleEar, wait: float, ask: bytes = b"", *, ready: Ready) -> Heard:
            def pressed() -> None:
                ready()
                hand._loop.call_soon_threadsafe(hand._pressed)

            return original(ear, wait, ask, pressed)

        async def ended(ear: BleEar) -> None:
            await end(ear)
            await end_library()

        patch.setattr(BleEar, "press", lambda ear, wait, ask=b"", ready=None: heard(
            ear, wait, ask, ready=ready))  # fmt: skip
        patch.setattr(BleEar, "_end", ended)
        patch.setattr("click.prompt", self._asked)

    def _asked(self, words: str, err: bool = False) -> str:
        self.now = self.said.pop(0) if self.said else "done"
        return self.now

    def _pressed(self) -> None:
        self.presses += 1
        self._press(Decimal(self.now.split()[0]))


async def learn(hand: Hand, *words: str, said: tuple[str, ...] = SAID) -> tuple[int, str]:
    """Runs the command in a thread of its own, for a person who says ``said``."""
    hand.said = list(said)
    result = await asyncio.to_thread(CliRunner().invoke, root, ["learn", *words])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.exit_code, result.output


@needs_bus
async def test_lines_of_one_characteristic_among_others_are_learned(
    daemon: Daemon, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    gauge = daemon.add(with_others(COUNTER, HIGHEST))
    gauge.mtu = 12  # so that a line comes in two notifications
    saved = tmp_path / "mine.toml"

    def send(uuid: str, data: bytes) -> None:
        daemon.notify(gauge, gauge.characteristic(uuid), data)

    def press(size: Decimal) -> None:
        send(HIGHEST, bytes([7, hand.presses]))
        send(LINE_OUT, text(size))
        send(BATTERY, bytes([14]))

    async def count() -> None:
        for number in range(1_000_000):
            send(COUNTER, number.to_bytes(4, "little"))
            await asyncio.sleep(0.15)

    hand = Hand(monkeypatch, press)
    counting = asyncio.get_running_loop().create_task(count())
    try:
        code, out = await learn(hand, f"ble://{gauge.address}", "--save", str(saved))
    finally:
        counting.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await counting
    assert code == 0, out
    assert "battery low (15 %)" in out
    assert f"Characteristic {LINE_OUT} carries the reading." in out
    assert f"Characteristic {HIGHEST} also sends at a press" in out
    assert f"Characteristic {COUNTER} sends by itself." in out
    said = decoded(parse_profile(saved.read_bytes(), "m", str(saved)), text(Decimal("-7.31")))
    assert said == ("-7.31", "mm")
    lines = out.split("For bench.toml:")[1].replace('kind = "?"', 'kind = "caliper"')
    bench = parse_bench(lines, "b.toml", tmp_path)
    assert bench.ports[0].settings.notify == LINE_OUT
    assert bench.ports[0].settings.device == f"ble://{gauge.address}"
    assert not gauge.connected


@needs_bus
async def test_a_connection_lost_while_learning_is_made_again(
    daemon: Daemon, monkeypatch: pytest.MonkeyPatch
) -> None:
    gauge = daemon.add(with_others())

    def press(size: Decimal) -> None:
        if hand.presses == 3:
            daemon.drop(gauge)
        else:
            daemon.notify(gauge, gauge.characteristic(LINE_OUT), counts(size))

    hand = Hand(monkeypatch, press)
    said = (*SAID[:2], "1 mm", *SAID[2:])
    code, out = await learn(hand, "ble://Invented line", "--json", said=said)
    assert code == 0, out
    assert "out of reach" in out
    assert "the 2 presses so far are kept" in out
    body = json.loads(out.splitlines()[-1])
    assert body["characteristic"] == LINE_OUT
    assert body["line"] is None
    assert f'notify = "{LINE_OUT}"' in body["bench"]


@needs_bus
async def test_a_gauge_that_describes_itself_needs_no_profile(
    daemon: Daemon, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    gauge = daemon.add(describing())

    def press(size: Decimal) -> None:
        daemon.notify(gauge, gauge.characteristic(VALUE), value_of(int(size * 1000)))

    hand = Hand(monkeypatch, press)
    address = f"ble://{gauge.address}"
    code, out = await learn(hand, address, said=("nonsense", "12.5 mm"))
    assert code == 0, out
    assert "describes itself (descriptor 0x2904, in m): it needs no profile" in out
    assert "says 12.5000 mm" in out
    lines = out.split("For bench.toml:")[1].replace('kind = "?"', 'kind = "caliper"')
    assert "profile" not in lines
    (instrument,) = parse_bench(lines, "b.toml", tmp_path).instruments
    assert (instrument.unit, instrument.resolution) == ("mm", Decimal("0.001"))


@needs_bus
async def test_the_standard_service_needs_none_either_and_is_named_where_there_are_two(
    daemon: Daemon, monkeypatch: pytest.MonkeyPatch
) -> None:
    wrench = daemon.add(industrial())

    def press(size: Decimal) -> None:
        daemon.notify(wrench, wrench.characteristic(LENGTH), value_of(int(size * 10**4)))

    hand = Hand(monkeypatch, press)
    code, out = await learn(hand, f"ble://{wrench.address}", said=("20 mm",))
    assert code == 0, out
    assert "service 0x185A" in out
    assert f'notify = "{LENGTH}"' in out
    code, out = await learn(hand, f"ble://{wrench.address}", said=("20 N·m",))
    assert code == 3
    assert "no characteristic says that size" in out


@needs_bus
async def test_a_gauge_that_is_asked_by_radio(
    daemon: Daemon, monkeypatch: pytest.MonkeyPatch
) -> None:
    gauge = daemon.add(line())

    def answer(data: bytes) -> None:
        assert data == b"V\r"
        size = Decimal(hand.now.split()[0])
        daemon.notify(gauge, gauge.characteristic(LINE_OUT), text(size))

    gauge.characteristic(LINE_IN).on_write = answer
    hand = Hand(monkeypatch, lambda size: None)
    code, out = await learn(hand, f"ble://{gauge.address}", "--ask", "V\\r")
    assert code == 0, out
    assert f'write = "{LINE_IN}"' in out
    assert 'send = "V\\r"' in out


@needs_bus
async def test_what_cannot_be_reached_says_why(
    daemon: Daemon, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("drivers.learn.hear_ble.SEARCH", 0.3)
    hand = Hand(monkeypatch, lambda size: None)
    code, out = await learn(hand, "ble://Nobody")
    assert code == 2
    assert "is not heard by radio. Mend: switch it on" in out
