"""The pieces of a running bench, started in order and stopped in reverse."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import AsyncExitStack, asynccontextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple

from api import VERSION
from api.settings import Settings
from capture.clock import SystemClock
from capture.pipeline import Pipeline
from capture.reading import Clock
from drivers.bench import Bench, load_bench
from drivers.devices import Devices

if TYPE_CHECKING:
    from api.badges import BadgeDesk
    from api.pedals import PedalDesk


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
    pedals: PedalDesk | None = None
    """The foot pedals; None where the bench has none."""
    badges: BadgeDesk | None = None
    """The badge readers; None where the bench has none."""

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
        if bench.pedals:
            service.pedals = await _pedals(undo, service, clock)
        if bench.badge_readers:
            service.badges = await _badges(undo, service, clock)
        undo.callback(service.stopping.set)
        yield service


async def _pedals(undo: AsyncExitStack, service: Service, clock: Clock) -> PedalDesk:
    """Opens the foot pedals. They close first: a press must find something to act on."""
    from api.pedals import PedalDesk  # few benches have one
    from drivers.keys.pedals import Pedals

    desk = PedalDesk(service.bench, service.pipeline, service.devices, clock)
    undo.push_async_callback(desk.stop)
    pedals = Pedals(service.bench.pedals, desk.pressed, desk.told)
    undo.push_async_callback(pedals.stop)
    await pedals.start()
    return desk


async def _badges(undo: AsyncExitStack, service: Service, clock: Clock) -> BadgeDesk:
    """Opens the badge readers. They close before what a scan is handed to."""
    from api.badges import BadgeDesk  # few benches have one
    from drivers.keys.badges import Badges

    desk = BadgeDesk(service.bench, service.pipeline, clock)
    undo.push_async_callback(desk.stop)
    badges = Badges(service.bench.badge_readers, desk.scanned, desk.told)
    undo.push_async_callback(badges.stop)
    await badges.start()
    return desk
