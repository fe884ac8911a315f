"""A port kept open: what is received, what is told, and how it is opened again."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import os
import tty
from collections.abc import AsyncIterator, Callable, Sequence
from pathlib import Path

import pytest

from capture.clock import SystemClock
from capture.errors import PortGone, TransportError
from capture.reading import Reading, Stamp, Undecodable
from drivers.adapters.connection import MAY_FOLLOW, State
from drivers.bench import Bench, parse_bench
from drivers.devices import Devices
from drivers.transports.ports import PortInfo
from tests.fake_ports import INSTRUMENT, Store, bench, running
from tests.support import eventually_async


async def test_readings_are_in_the_sink_before_the_transport_goes_on() -> None:
    async with running(bench()) as workbench:
        transport = await workbench.ready()

        transport.received(b"+1.000 mm\r\n2.")
        assert workbench.store.told == ["1.000"]
        transport.received(b"000\r")
        assert workbench.store.told == ["1.000", "2.000"]

    assert workbench.store.states_of() == ["opening", "ready", "closed"]


async def test_many_messages_in_one_chunk_are_handed_on_at_once_with_one_stamp() -> None:
    async with running(bench()) as workbench:
        transport = await workbench.ready()

        transport.received(b"1.0\r\n" * 1000)

        assert workbench.store.calls == 1
        assert len(workbench.store.items) == 1000
        assert len({item.stamp for item in workbench.store.items}) == 1


async def test_half_a_message_is_told_after_the_silence(tmp_path: Path) -> None:
    (tmp_path / "quick.toml").write_text(
        '[frame]\nkind = "terminator"\nterminators = ["\\r"]\npatience_seconds = "0.02"\n'
        '[decode]\nkind = "text"\nlayout = "{number}"\n'
    )
    async with running(bench(profile="quick.toml", folder=tmp_path)) as workbench:
        transport = await workbench.ready()
        transport.received(b"1.0\r2.")

        await eventually_async(lambda: len(workbench.store.items) == 2, "the half was told")

        assert workbench.store.told == ["1.0", "incomplete"]


async def test_silence_ends_messages_of_a_silence_profile(tmp_path: Path) -> None:
    (tmp_path / "silent.toml").write_text(
        '[frame]\nkind = "silence"\ngap_seconds = "0.02"\n'
        '[decode]\nkind = "text"\nlayout = "{number}"\n'
    )
    async with running(bench(profile="silent.toml", folder=tmp_path)) as workbench:
        transport = await workbench.ready()
        for number in range(3):
            transport.received(b"1.")
            transport.received(b"%d" % number)
            await workbench.has_stored(number + 1)

        assert workbench.store.told == ["1.0", "1.1", "1.2"]


async def test_waits_grow_and_begin_again_after_a_good_connection() -> None:
    async with running(bench()) as workbench:
        workbench.refusals = [PortGone("cannot open it", mend="plug it in") for _ in range(7)]
        for number in range(1, 8):
            await workbench.waiting(number)
            workbench.wake.set()
        transport = await workbench.ready()
        assert workbench.waits == [0.25, 0.5, 1.0, 2.0, 4.0, 5.0, 5.0]

        transport.received(b"1.0\r")
        transport.lost(PortGone("it vanished"))
        await workbench.waiting(8)
        assert workbench.waits[-1] == 0.25


async def test_a_port_that_opens_and_vanishes_at_once_is_tried_ever_more_slowly() -> None:
    async with running(bench()) as workbench:
        for number in range(1, 5):
            transport = await workbench.ready(number)
            transport.lost(PortGone("it vanished"))
            await workbench.waiting(number)
            workbench.wake.set()
        await workbench.ready(5)

        assert workbench.waits == [0.25, 0.5, 1.0, 2.0]


async def test_the_state_says_why_and_the_mend_and_when_it_is_tried_again() -> None:
    async with running(bench()) as workbench:
        workbench.refusals = [TransportError("cannot open it: no permission", mend="join dialout")]
        await workbench.waiting()

        (state,) = workbench.devices.states()
        assert state.state == "lost"
        assert state.detail == "cannot open it: no permission; join dialout; trying again in 0.2 s"
        assert workbench.store.states_of() == ["opening", "lost"]


async def test_what_was_half_received_when_the_port_vanished_is_kept() -> None:
    async with running(bench()) as workbench:
        transport = await workbench.ready()
        transport.received(b"12.3")
        transport.lost(PortGone("it vanished"))
        await workbench.waiting()

        assert workbench.store.told == ["incomplete", "gap"]
        assert transport.closed
        workbench.wake.set()
        (await workbench.ready(2)).received(b"4.5\r")
        assert workbench.store.told == ["incomplete", "gap", "4.5"]


async def test_what_closing_hands_on_completes_what_was_half_received() -> None:
    for stopped in (False, True):
        async with running(bench()) as workbench:
            transport = await workbench.ready()
            transport.on_close = lambda: transport.received(b"45\r6.")  # noqa: B023 # called in the same round
            transport.received(b"12.3")
            if not stopped:
                transport.lost(PortGone("it vanished"))
                await workbench.waiting()

        assert workbench.store.told == ["12.345", "incomplete", *([] if stopped else ["gap"])]


async def test_a_stop_while_a_lost_port_is_closed_waits_for_its_bytes() -> None:
    async with running(bench()) as workbench:
        transport = await workbench.ready()
        closing, go_on = asyncio.Event(), asyncio.Event()

        async def slowly() -> None:
            closing.set()
            await go_on.wait()
            transport.received(b"45\r")
            transport.closed = True

        transport.close = slowly  # type: ignore[method-assign] # a port slow to close
        transport.received(b"12.3")
        transport.lost(PortGone("it vanished"))
        await closing.wait()
        stopping = asyncio.ensure_future(workbench.devices.stop())
        for _ in range(5):
            await asyncio.sleep(0)
        assert not stopping.done()
        go_on.set()
        await stopping

        assert workbench.store.told == ["12.345", "gap"]


async def test_a_cable_is_found_under_another_name_by_its_usb_serial_number() -> None:
    plugged = [PortInfo("/dev/ttyUSB0", "A1"), PortInfo("/dev/ttyUSB1", "B2")]
    async with running(bench(port='usb_serial = "B2"'), plugged) as workbench:
        transport = await workbench.ready()
        assert transport.device == "/dev/ttyUSB1"
        assert workbench.devices.states()[0].detail == "on /dev/ttyUSB1"

        workbench.ports = [PortInfo("/dev/ttyUSB0", "A1"), PortInfo("/dev/ttyUSB7", "B2")]
        transport.lost(PortGone("it vanished"))
        await workbench.waiting()
        workbench.wake.set()

        assert (await workbench.ready(2)).device == "/dev/ttyUSB7"


async def test_a_number_not_in_the_bench_file_is_remembered() -> None:
    async with running(bench(), [PortInfo("/dev/ttyUSB0", "A1")]) as workbench:
        transport = await workbench.ready()
        workbench.ports = [PortInfo("/dev/ttyUSB4", "A1")]
        transport.lost(PortGone("it vanished"))
        await workbench.waiting()
        workbench.wake.set()

        assert (await workbench.ready(2)).device == "/dev/ttyUSB4"


async def test_two_cables_that_swapped_names_stay_with_their_instruments() -> None:
    two = parse_bench(
        "".join(
            INSTRUMENT.format(id=name, profile="decimal-line", more="").replace(
                "cable", f"/dev/ttyUSB{number}"
            )
            for number, name in enumerate(("a", "b"))
        ),
        "b.toml",
        Path(),
    )
    plugged = [PortInfo("/dev/ttyUSB0", "A1"), PortInfo("/dev/ttyUSB1", "B2")]
    async with running(two, plugged) as workbench:
        await workbench.ready(2)
        first = {transport.device: transport for transport in workbench.transports}
        workbench.ports = [PortInfo("/dev/ttyUSB0", "B2")]  # a is out, b has taken its name

        for transport in first.values():
            transport.lost(PortGone("it vanished"))
        await workbench.waiting(2)
        workbench.wake.set()
        await eventually_async(lambda: len(workbench.waits) >= 2, "both wait")
        for _ in range(6):
            workbench.wake.set()
            await asyncio.sleep(0.01)

        states = {state.instrument: state for state in workbench.devices.states()}
        assert states["b"].state == "ready"
        assert states["b"].detail == "on /dev/ttyUSB0"
        assert states["a"].state == "lost"
        assert "/dev/ttyUSB0 is now another cable" in states["a"].detail


async def test_no_room_pauses_the_port_and_shows_it_lagging() -> None:
    async with running(bench()) as workbench:
        transport = await workbench.ready()
        workbench.store.roomy.clear()

        transport.received(b"1.0\r")
        assert transport.paused
        assert workbench.devices.states()[0].state == "lagging"
        transport.received(b"2.0\r")  # a thread had read this already
        assert workbench.store.told == ["1.0", "2.0"]

        workbench.store.roomy.set()
        await eventually_async(lambda: not transport.paused, "reading again")
        assert workbench.store.states_of() == ["opening", "ready", "lagging", "ready"]


async def test_a_port_lost_while_lagging_is_opened_again() -> None:
    async with running(bench()) as workbench:
        transport = await workbench.ready()
        workbench.store.roomy.clear()
        transport.received(b"1.0\r")
        transport.lost(PortGone("it vanished"))
        await workbench.waiting()
        workbench.store.roomy.set()
        workbench.wake.set()
        (await workbench.ready(2)).received(b"2.0\r")

        assert workbench.store.told == ["1.0", "gap", "2.0"]


async def test_a_mistake_of_ours_keeps_the_bytes_and_opens_the_port_again(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    async with running(bench()) as workbench:
        transport = await workbench.ready()
        (adapter,) = workbench.devices._adapters

        def broken(chunk: bytes, stamp: Stamp) -> list[Reading | Undecodable]:
            raise ZeroDivisionError

        monkeypatch.setattr(adapter._receiver, "receive", broken)
        transport.received(b"1.0\r")
        await workbench.waiting()

        assert workbench.store.told == ["fault", "gap"]
        kept = workbench.store.items[0]
        assert isinstance(kept, Undecodable)
        assert kept.raw == b"1.0\r"
        assert workbench.store.states_of() == ["opening", "ready", "faulted", "lost"]
        assert "ZeroDivisionError" in caplog.text
        workbench.wake.set()
        (await workbench.ready(2)).received(b"2.0\r")
        assert workbench.store.told == ["fault", "gap", "2.0"]


async def test_a_mistake_while_opening_does_not_end_the_trying() -> None:
    async with running(bench()) as workbench:
        workbench.refusals = [ZeroDivisionError("ours")]
        await workbench.waiting()
        assert "ZeroDivisionError" in workbench.devices.states()[0].detail
        workbench.wake.set()
        await workbench.ready()


async def test_the_first_error_is_logged_with_the_last_bytes(
    caplog: pytest.LogCaptureFixture,
) -> None:
    with caplog.at_level(logging.WARNING):
        async with running(bench()) as workbench:
            transport = await workbench.ready()
            transport.received(b"1.0\r")
            transport.received(b"?\r")
            transport.received(b"!\r")

    (record,) = caplog.records
    assert "mike on cable: layout" in record.getMessage()
    assert "31 2e 30 0d | 3f 0d" in record.getMessage()


async def test_one_port_that_fails_does_not_touch_the_others() -> None:
    text = "".join(
        INSTRUMENT.format(id=name, profile="decimal-line", more="").replace("cable", f"/dev/{name}")
        for name in ("a", "b")
    )
    async with running(parse_bench(text, "b.toml", Path())) as workbench:
        workbench.refusals = [TransportError("no")]
        await workbench.waiting()
        await eventually_async(lambda: len(workbench.transports) == 1, "the other is open")

        workbench.transports[0].received(b"1.0\r")

        assert sorted(state.state for state in workbench.devices.states()) == ["lost", "ready"]
        assert workbench.store.told == ["1.0"]


def test_every_state_leads_on_and_can_be_closed() -> None:
    assert set(MAY_FOLLOW) == set(State)
    for state, following in MAY_FOLLOW.items():
        assert state not in following
        assert state is State.CLOSED or State.CLOSED in following


# On real bytes: a pseudo-terminal stands for the cable.


class Cable:
    """A pseudo-terminal with a name of its own."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.ours, self.theirs = os.openpty()
        tty.setraw(self.theirs)
        path.symlink_to(os.ttyname(self.theirs))

    def send(self, data: bytes) -> None:
        os.write(self.ours, data)

    def pull(self) -> None:
        self.path.unlink()
        os.close(self.ours)
        os.close(self.theirs)


@contextlib.asynccontextmanager
async def on_cables(
    of: Bench, ports: Callable[[], Sequence[PortInfo]], store: Store
) -> AsyncIterator[Devices]:
    async def soon(seconds: float) -> None:
        await asyncio.sleep(seconds / 50)

    devices = Devices(of, store, SystemClock(), ports=ports, sleep=soon)
    await devices.start()
    try:
        yield devices
    finally:
        await devices.stop()


def is_ready(devices: Devices) -> Callable[[], bool]:
    return lambda: devices.states()[0].state == "ready"


async def test_a_cable_pulled_and_plugged_in_under_another_name(tmp_path: Path) -> None:
    store = Store()
    cable = Cable(tmp_path / "usb0")
    plugged = [PortInfo(str(cable.path), "A1")]
    of = bench(str(cable.path), port='usb_serial = "A1"')
    async with on_cables(of, lambda: plugged, store) as devices:
        await eventually_async(is_ready(devices), "ready")
        cable.send(b"+1.000 mm\r\n")
        await eventually_async(lambda: store.told == ["1.000"], "the first press")

        cable.pull()
        plugged.clear()
        await eventually_async(lambda: "lost" in store.states_of(), "lost")
        assert "vanished" in next(s.detail for s in store.states if s.state == "lost")

        cable = Cable(tmp_path / "usb1")
        plugged.append(PortInfo(str(cable.path), "A1"))
        await eventually_async(is_ready(devices), "ready again")
        assert devices.states()[0].detail == f"on {cable.path}"
        cable.send(b"+2.000 mm\r\n")
        await eventually_async(lambda: store.told == ["1.000", "gap", "2.000"], "the second")
    cable.pull()


async def test_presses_wait_in_the_port_while_there_is_no_room(tmp_path: Path) -> None:
    store = Store()
    cable = Cable(tmp_path / "usb0")
    async with on_cables(bench(str(cable.path)), list, store) as devices:
        await eventually_async(is_ready(devices), "ready")
        store.roomy.clear()
        cable.send(b"0\r")
        await eventually_async(lambda: store.states_of()[-1] == "lagging", "lagging")
        for number in range(1, 100):
            cable.send(b"%d\r" % number)
        await asyncio.sleep(0.05)
        assert len(store.items) == 1

        store.roomy.set()
        await eventually_async(lambda: len(store.items) == 100, "all that waited")
        assert store.told == [str(number) for number in range(100)]
    cable.pull()


async def test_a_port_that_is_not_there_is_told_and_found_once_it_is(tmp_path: Path) -> None:
    store = Store()
    async with on_cables(bench(str(tmp_path / "usb0")), list, store) as devices:
        await eventually_async(lambda: "lost" in store.states_of(), "lost")
        detail = next(state.detail for state in store.states if state.state == "lost")
        assert "there is no such port; plug the cable in" in detail

        cable = Cable(tmp_path / "usb0")
        await eventually_async(is_ready(devices), "ready")
    cable.pull()


async def test_sixty_four_ports_idle_without_threads_of_their_own(tmp_path: Path) -> None:
    import threading

    store = Store()
    cables = [Cable(tmp_path / f"usb{number}") for number in range(64)]
    text = "".join(
        INSTRUMENT.format(id=f"g{number}", profile="decimal-line", more="").replace(
            "cable", str(cable.path)
        )
        for number, cable in enumerate(cables)
    )
    async with on_cables(parse_bench(text, "b.toml", tmp_path), list, store) as devices:
        await eventually_async(
            lambda: all(state.state == "ready" for state in devices.states()), "64 ready"
        )
        readers = [thread for thread in threading.enumerate() if "reader" in thread.name]
        assert readers == []
        for number, cable in enumerate(cables):
            cable.send(b"%d\r" % number)
        await eventually_async(lambda: len(store.items) == 64, "a press from each")
        assert {item.instrument for item in store.items} == {f"g{n}" for n in range(64)}
    for cable in cables:
        cable.pull()
