"""Sixty-four instruments on one service, their ports vanishing and returning at random.

Every press carries its number in its digits. In the end each is stored once and in order, or lies
where the record names a gap; and the service holds no more threads, files and memory than it did
when it was warm. ``SOAK_SECONDS`` sets how long.
"""

from __future__ import annotations

import asyncio
import os
from collections.abc import AsyncIterator, Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

from simulators.ble.bus import PrivateBus
from tests.ble import needs_bus
from tests.served import run
from tests.soak.faults import ledger, service
from tests.soak.many.bench import Bench
from tests.soak.many.figures import Figures
from tests.soak.many.gauge import Gauge
from tests.soak.many.gauges import bench_toml, gauges
from tests.soak.many.lines import Radio
from tests.soak.many.oracle import Account, account

SECONDS = float(os.environ.get("SOAK_SECONDS", "300"))
PER_ENTRY = 512
"""Bytes of memory that may stay for an entry of the ledger."""
BREATH = 8 * 2**20
"""Bytes of memory that may come and go: SQLite's cache, the allocator's, answers under way."""

pytestmark = [
    needs_bus,
    pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="what is used is read in /proc"),
    pytest.mark.timeout(SECONDS + 300),
    pytest.mark.xdist_group("soak"),
]


class Run(NamedTuple):
    """What was seen of the service."""

    warm: Figures
    """After a quarter of the time, with everything connected."""
    end: Figures
    """At the end, with everything connected."""
    grown: int
    """Entries of the ledger between the two."""
    complaints: str


@pytest.fixture
def bus() -> Iterator[PrivateBus]:
    started = PrivateBus()
    yield started
    started.stop()


@pytest.fixture
async def radio(bus: PrivateBus) -> AsyncIterator[Radio]:
    made = Radio(bus.address)
    yield made
    await made.stop()


@pytest.fixture
async def made(tmp_path: Path, radio: Radio) -> AsyncIterator[list[Gauge]]:
    made = gauges(tmp_path / "ports", radio)
    (tmp_path / "bench.toml").write_text(bench_toml(made), "utf-8")
    await radio.start()
    lines = {gauge.line.name: gauge.line for gauge in made}.values()
    for line in lines:
        await line.start()
    idle = [asyncio.create_task(gauge.idle()) for gauge in made]
    yield made
    for task in idle:
        task.cancel()
    for line in lines:
        await line.stop()


async def test_every_press_is_stored_or_in_a_named_gap_and_nothing_grows(
    tmp_path: Path,
    bus: PrivateBus,
    radio: Radio,
    made: list[Gauge],
    record_property: Callable[[str, object], None],
) -> None:
    seen = await _run(tmp_path, bus, radio, made)
    found = ledger.look(ledger.copy(tmp_path / "store", tmp_path))
    ended = [account(gauge, found.entries) for gauge in made]
    record_property("figures", _report(seen, ended))

    assert len(made) == 64
    assert all(one.gaps and one.stored for one in ended), "a line was never pulled"
    assert "Traceback" not in seen.complaints
    assert "never retrieved" not in seen.complaints
    assert seen.end.threads <= seen.warm.threads
    assert not (more := seen.end.files - seen.warm.files), more
    assert seen.end.resident - seen.warm.resident < BREATH + PER_ENTRY * seen.grown
    verified = run("verify", str(tmp_path / "store"))
    assert verified.returncode == 0, verified.stdout + verified.stderr


async def _run(folder: Path, bus: PrivateBus, radio: Radio, made: list[Gauge]) -> Run:
    environment = {**os.environ, "DBUS_SYSTEM_BUS_ADDRESS": bus.address}
    starting = service.running(folder / "bench.toml", folder / "store", environment=environment)
    with starting as running:
        bench = Bench(made, radio, running, longest=min(30.0, SECONDS / 5), seed=64)
        await bench.connected()
        async with bench.at_work():
            await bench.pulled(SECONDS / 4, restart=False)
            warm, size = await bench.figures(), await bench.size()
            await bench.pulled(SECONDS * 3 / 4, restart=True)
        await bench.connected()
        await bench.heard()
        end, grown = await bench.figures(), await bench.size() - size
        assert await asyncio.to_thread(running.stop) == 0
    return Run(warm, end, grown, "".join(running.errors))


def _report(seen: Run, ended: list[Account]) -> str:
    """The figures in words, for whoever runs it."""
    stored, missing, hung_up_on, gaps = (sum(column) for column in zip(*ended, strict=True))
    warm, end = seen.warm, seen.end
    busy = (end.busy - warm.busy) / (end.at - warm.at)
    return (
        f"{len(ended)} instruments, {stored + missing} presses: {stored} stored, {missing} in "
        f"{gaps} named gaps ({hung_up_on} of them on the wire when their line vanished), or pulls "
        f"stored as incomplete; "
        f"threads {warm.threads} to {end.threads}, files {warm.files.total()} to "
        f"{end.files.total()}, "
        f"memory {warm.resident / 2**20:.1f} to {end.resident / 2**20:.1f} MiB over "
        f"{seen.grown} entries, processor {100 * busy:.1f} % of one core"
    )
