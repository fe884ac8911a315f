"""A gauge on a radio that vanishes while it sends: every press is stored once and in order, or
stands in a named gap."""

from __future__ import annotations

import asyncio
import random
from collections.abc import AsyncIterator, Iterator

import pytest

from capture.reading import Captured, Reading, Undecodable
from simulators.ble.bus import PrivateBus
from simulators.ble.daemon import Daemon
from simulators.ble.gauges import VALUE, describing, integer
from tests.ble import devices, needs_bus, row
from tests.support import eventually_async

pytestmark = needs_bus

RUNS = 20
PRESSES = 1000


@pytest.fixture(scope="module")
def bus() -> Iterator[PrivateBus]:
    started = PrivateBus()
    yield started
    started.stop()


@pytest.fixture
async def daemon(bus: PrivateBus, monkeypatch: pytest.MonkeyPatch) -> AsyncIterator[Daemon]:
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", bus.address)
    started = Daemon(bus.address, interval=0.005)
    await started.start()
    yield started
    await started.stop()
    assert started.refused == []


def lost_without_a_name(stored: list[Captured]) -> list[int]:
    """The presses that are missing where no gap stands; fails on one that came twice or late."""
    unnamed: list[int] = []
    last, gap = -1, False
    for item in stored:
        if isinstance(item, Undecodable):
            assert item.code == "gap"
            gap = True
            continue
        assert isinstance(item, Reading)
        value = int(item.value.scaleb(6))
        assert value > last, f"{value} after {last}"
        if not gap:
            unnamed += range(last + 1, value)
        last, gap = value, False
    return unnamed if gap else unnamed + list(range(last + 1, PRESSES))


@pytest.mark.parametrize("seed", range(RUNS))
async def test_every_press_is_stored_once_and_in_order_or_in_a_named_gap(
    daemon: Daemon, seed: int
) -> None:
    chance = random.Random(seed)
    gauge = daemon.add(describing(battery=None))
    value = gauge.characteristic(VALUE)
    vanishes = chance.randrange(1, PRESSES - 1)
    returns = chance.uniform(0.0, 0.05)
    sent: list[int] = []
    async with devices(row()) as (_, store):
        await eventually_async(lambda: store.states_of()[-1:] == ["ready"], "it is ready")
        for number in range(PRESSES):
            if daemon.notify(gauge, value, integer(number)):
                sent.append(number)
            if number == vanishes:
                daemon.vanish(gauge)
                asyncio.get_running_loop().call_later(returns, setattr, gauge, "on_air", True)
            await asyncio.sleep(0.002 if len(sent) <= number else 0)
        await eventually_async(
            lambda: len(store.items) > len(sent),
            "all that was sent is stored, and a gap",
        )
        # the gauge comes back by itself, however late in the stream it went
        await eventually_async(lambda: store.states_of()[-1:] == ["ready"], "it is back")
    readings = [int(item.value.scaleb(6)) for item in store.items if isinstance(item, Reading)]

    assert readings == sent
    assert lost_without_a_name(store.items) == []
    assert sum(isinstance(item, Undecodable) for item in store.items) == 1
