"""A real pipeline on a real store, without ports or HTTP, for tests. All of it is invented."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from concurrent.futures import Future
from contextlib import asynccontextmanager
from pathlib import Path
from typing import TypeVar

from capture import command as c
from capture.clock import SystemClock
from capture.pipeline import Pipeline
from capture.reading import Reading
from tests.paper import INSTRUMENTS, SPEC

T = TypeVar("T")
CLOCK = SystemClock()


def open_pipeline(store: Path, **more: Callable[[int, int], None]) -> Pipeline:
    return Pipeline.open(
        store,
        clock=CLOCK,
        instruments=INSTRUMENTS,
        profiles={"x": "invented"},
        title="Bench for tests",
        version="0",
        **more,
    )


@asynccontextmanager
async def pipeline(store: Path) -> AsyncIterator[Pipeline]:
    made = open_pipeline(store)
    made.start(asyncio.get_running_loop())
    try:
        yield made
    finally:
        await asyncio.to_thread(made.stop)


async def done(future: Future[T]) -> T:
    return await asyncio.wait_for(asyncio.wrap_future(future), 20)


async def ready(made: Pipeline, spec: str = SPEC) -> str:
    """A build with its first confirmation done and the bore gauge set; gives its id."""
    from decimal import Decimal

    known = await done(made.submit(c.AddSpec(spec, "pump.toml")))
    build = f"b{(await done(made.submit(c.OpenBuild(known.body['hash'], 'One')))).seq}"
    await done(made.submit(c.Confirm(build, "wipe/1", "")))
    setting = c.SetGauge("bore", "ring", Decimal("20.000"), "mm", Decimal("0.0005"), Decimal(2))
    await done(made.submit(setting))
    return build


def reading(digits: str, instrument: str = "bore", unit: str = "mm") -> Reading:
    return Reading(instrument, digits.encode() + b"\r", digits, unit, (), CLOCK.now())
