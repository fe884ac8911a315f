"""A store with something for an auditor to find: presses as bytes, one of them corrected, one
voided, one held. Everything in it is invented."""

from __future__ import annotations

import asyncio
from decimal import Decimal
from pathlib import Path
from typing import NamedTuple

from capture import command as c
from capture.instrument import Calibration, Instrument
from capture.pipeline import Pipeline
from capture.reading import Reading
from drivers.profiles.load import load_shipped
from simulators.wire import wire_for
from tests.pipeline_bench import CLOCK, done
from tests.running import SPEC

PROFILE = "framed-line-xor"
REASON = "Read the drum one turn too far, seen on the sleeve."


class Audited(NamedTuple):
    """Seqs of what there is to find, and the build."""

    build: str
    conforming: int
    corrected: int
    void: int
    held: int
    typed: int


def gauge() -> Instrument:
    certified = Calibration("invented", "2099-12-31", Decimal("0.002"), Decimal(2))
    return Instrument(
        "mic-1", "micrometer", "mm", Decimal("0.001"), "cable", PROFILE,
        simulated=True, calibration=certified,
    )  # fmt: skip


def pressed(digits: str) -> Reading:
    raw = wire_for(PROFILE, "").message(Decimal(digits), "mm")
    return Reading("mic-1", raw, digits, "mm", (), CLOCK.now())


async def audited(store: Path) -> Audited:
    """Fills a store, and leaves it to be served."""
    made = Pipeline.open(
        store,
        clock=CLOCK,
        instruments=(gauge(),),
        profiles={PROFILE: load_shipped(PROFILE).text},
        title="Bench for tests",
        version="0",
    )
    made.start(asyncio.get_running_loop())
    try:
        return await _filled(made)
    finally:
        await asyncio.to_thread(made.stop)


async def _filled(made: Pipeline) -> Audited:
    async def press(digits: str) -> int:
        before = made.size
        made.take([pressed(digits)])
        await done(made.view(lambda _desk: None))
        return before + 1

    known = await done(made.submit(c.AddSpec(SPEC, "pump.toml")))
    await done(made.submit(c.SetOperator("first")))
    build = f"b{(await done(made.submit(c.OpenBuild(known.body['hash'], 'Pump')))).seq}"
    conforming = await press("25.001")
    void = await press("25.004")
    await done(made.submit(c.Void(void, "The sleeve rolled."), operator="second"))
    corrected = await press("24.504")
    reading = await press("250.02")
    typed = await done(made.submit(c.TypeReading("mic-1", "25.003", "mm")))
    await done(
        made.submit(
            c.Place(corrected, build, "measure-diameter/2/top", "Of that sleeve."),
            operator="second",
        )
    )
    await done(made.submit(c.Correct(corrected, "25.004", "mm", REASON), operator="second"))
    return Audited(build, conforming, corrected, void, reading, typed.seq)
