"""Ports that come and go all day leave no task behind: counted inside the process."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Iterator, Sequence
from pathlib import Path

import pytest

from capture.reading import Reading
from drivers.devices import Devices
from simulators.ble.bus import PrivateBus
from simulators.ble.daemon import Daemon
from simulators.ble.gauges import VALUE, describing, integer
from simulators.serial_side import Cable
from tests.ble import devices, needs_bus, row
from tests.support import eventually_async

pytestmark = needs_bus

GAUGES = 4
"""Of each sort."""
WARM, ROUNDS = 2, 12


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


@pytest.fixture
def cables(tmp_path: Path) -> Iterator[list[Cable]]:
    made = [Cable(tmp_path / f"cable-{number}") for number in range(GAUGES)]
    yield made
    for cable in made:
        cable.close()


async def test_no_task_is_left_by_a_port_that_was_lost(daemon: Daemon, cables: list[Cable]) -> None:
    radios = [daemon.add(describing(f"C2:00:00:00:01:0{n}", f"radio-{n}")) for n in range(GAUGES)]
    rows = [row(radio.name, f"ble://{radio.address}") for radio in radios]
    rows += [
        row(cable.path.name, str(cable.path), more='profile = "decimal-line"') for cable in cables
    ]
    counts: list[int] = []
    async with devices(*rows) as (running, store):
        for number in range(1, WARM + ROUNDS + 1):
            await _all("ready", running)
            for radio in radios:
                daemon.notify(radio, radio.characteristic(VALUE), integer(number))
            for cable in cables:
                cable.write(f"{number}.000 mm\r\n".encode())
            await eventually_async(
                lambda: len(_presses(store.items)) == 2 * GAUGES * number,  # noqa: B023 # at once
                "all are stored",
            )
            counts.append(await _fewest_tasks())
            for radio in radios:
                daemon.vanish(radio)
            for cable in cables:
                cable.vanish()
            await eventually_async(
                lambda: all(one.state != "ready" for one in running.states()), "all are lost"
            )
            for radio in radios:
                radio.on_air = True
            for cable in cables:
                cable.plug_in()
    assert set(counts[WARM:]) == {counts[WARM]}, counts


async def _all(state: str, running: Devices) -> None:
    await eventually_async(
        lambda: all(one.state == state for one in running.states()), f"all are {state}", 20
    )


async def _fewest_tasks() -> int:
    """What an answer under way needs is gone after some turns of the loop."""
    counts = []
    for _ in range(20):
        counts.append(len(asyncio.all_tasks()))
        await asyncio.sleep(0.005)
    return min(counts)


def _presses(items: Sequence[object]) -> list[Reading]:
    return [item for item in items if isinstance(item, Reading)]
