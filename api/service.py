"""The pieces of a running bench, started in order and stopped in reverse."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import AsyncExitStack, asynccontextmanager
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from api import VERSION
from api.settings import Settings
from capture.clock import SystemClock
from capture.pipeline import Pipeline
from drivers.bench import Bench, load_bench
from drivers.devices import Devices


class Counted(NamedTuple):
    """How many older readings waited when they were last counted."""

    size: int
    at: float
    waiting: int


@dataclass(slots=True)
class Service:
    """What routes and pages work with."""

    settings: Settings
    bench: Bench
    pipeline: Pipeline
    devices: Devices
    stopping: asyncio.Event = field(default_factory=asyncio.Event)
    """Set when the service is about to stop: event streams end."""
    told: dict[str, Any] | None = None
    """The state last told to a page; shown again while the store is in trouble."""
    counted: Counted | None = None

    @property
    def simulated(self) -> bool:
        return any(instrument.simulated for instrument in self.bench.instruments)


@asynccontextmanager
async def running(settings: Settings) -> AsyncIterator[Service]:
    """A bench that captures, until the block ends.

    The store opens before any port does, so that no press arrives that could not be stored; and
    ports close before the store, so that what was taken is stored.

    Raises ``BenchError``, ``StoreInUse``, ``StoreDamaged`` and ``StoreError``.
    """
    bench = load_bench(settings.bench)
    clock = SystemClock()
    pipeline = Pipeline.open(
        settings.store,
        clock=clock,
        instruments=bench.instruments,
        profiles={name: profile.text for name, profile in bench.profiles.items()},
        title=bench.title,
        version=VERSION,
    )
    async with AsyncExitStack() as undo:
        undo.callback(pipeline.stop)
        pipeline.start(asyncio.get_running_loop())
        devices = Devices(bench, pipeline, clock)
        undo.push_async_callback(devices.stop)
        await devices.start()
        service = Service(settings, bench, pipeline, devices)
        undo.callback(service.stopping.set)
        yield service
