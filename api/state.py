"""All that a bench page shows, as plain data of one moment."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Collection
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import orjson

from api.badges import operator_bodies
from api.service import Counted, Service
from capture import view as views
from capture.errors import UnitError
from capture.quantity import dimension
from capture.reading import DeviceState

if TYPE_CHECKING:
    from capture.desk import Desk

RECENT = 200
"""How far back, in entries, readings that wait to be placed are looked for."""
FAR_BACK = 5000
"""How far back older ones that wait are counted, and the last reading is looked for when there is
none among the recent ones."""
RECOUNT_SECONDS = 5.0
"""How long a count of older ones that wait is good for, while the ledger grows."""
NEVER_PLACED = frozenset({"gauge-not-set", "void", "zero-check"})
"""Reasons that naming a step does not settle: a deviation from no standard is no size, and what
was taken out of the count stays out."""
PATIENCE_SECONDS = 1.0


def device_body(state: DeviceState) -> dict[str, Any]:
    """News of a connection as JSON-ready data."""
    return {
        "instrument": state.instrument,
        "state": state.state,
        "detail": state.detail,
        "at": state.stamp.at,
        "since": state.since,
        "battery": state.battery,
        "low_battery": state.low_battery,
    }


async def bench_state(service: Service) -> dict[str, Any]:
    """Title, active build, its next step, the last reading, each instrument's latest, what waits
    to be placed, instruments, their connections, and whether readings are being stored. ``at`` is
    the service's clock: a page tells the age of a reading by it, and not by its own.

    ``size`` is taken first: events after it bring whatever is newer than the rest. While the store
    is in trouble the state cannot be told: then it is the one last told, and ``known`` is false.
    """
    pipeline = service.pipeline
    size = pipeline.size
    told = asyncio.wrap_future(pipeline.view(_of_desk))
    done, _ = await asyncio.wait({told}, timeout=PATIENCE_SECONDS)
    if done:
        service.told = told.result()
    recent = await asyncio.to_thread(_recent, service, size)
    known = service.told or NOTHING
    step = (known["next"] or NOTHING_NEXT)["step"]
    unset = {i["id"] for i in known["instruments"] if i["comparative"] and not i["setting"]}
    return {
        "title": service.bench.title,
        "bench": pipeline.bench,
        "size": size,
        "at": datetime.now(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z"),
        "simulated": service.simulated,
        "known": bool(done),
        "last": recent[-1] if recent else None,
        "latest": _latest(recent),
        "unplaced": [
            {**one, "placeable": placeable(one, step, unset)} for one in recent if _waits(one)
        ],
        "older": await asyncio.to_thread(_older, service, size),
        "devices": [device_body(state) for state in pipeline.devices()],
        "pedals": [] if service.pedals is None else service.pedals.states(),
        "operators": operator_bodies(service.bench.operators),
        "badge_readers": [] if service.badges is None else service.badges.states(),
        "askable": [
            instrument.id
            for port in service.bench.ports
            if port.profile.request is not None
            for instrument in port.instruments
        ],
        "condition": pipeline.condition()._asdict(),
        **known,
    }


NOTHING: dict[str, Any] = {"operator": None, "instruments": [], "build": None, "next": None}
NOTHING_NEXT: dict[str, Any] = {"step": None}


def _of_desk(desk: Desk) -> dict[str, Any]:
    build = desk.active_build()
    return {
        "operator": desk.operator,
        "instruments": views.instruments(desk),
        "build": None if build is None else views.build(desk, build.id),
        "next": None if build is None else views.next_step(desk, build.id),
    }


def _recent(service: Service, size: int) -> list[dict[str, Any]]:
    """The newest readings, oldest first; only the very last one if it is far back."""
    archive = service.pipeline.archive
    found = archive.readings(after=max(0, size - RECENT), limit=RECENT).items
    if not found:
        found = archive.readings(after=max(0, size - FAR_BACK), limit=FAR_BACK).items[-1:]
    return [orjson.loads(one) for one in found]


def _latest(recent: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The latest of these readings of each instrument. Its placement tells a page whether it may
    be shown: a study is blind."""
    newest = {one["instrument"]: one for one in recent}
    kept = ("seq", "instrument", "received_at", "value", "unit", "corrected", "placement")
    return [
        {key: one[key] for key in kept} | {"bracket": one.get("bracket")} for one in newest.values()
    ]


def _older(service: Service, size: int) -> int:
    """How many older readings wait, down to ``FAR_BACK`` entries ago. Nothing in a store counts
    them, so they are looked through, and only now and then."""
    if size <= RECENT:
        return 0
    now, counted = time.monotonic(), service.counted
    if counted and (counted.size == size or now - counted.at < RECOUNT_SECONDS):
        return counted.waiting
    archive, start = service.pipeline.archive, max(0, size - FAR_BACK)
    found = (orjson.loads(one) for one in archive.readings(after=start, limit=FAR_BACK).items)
    waiting = sum(1 for one in found if one["seq"] <= size - RECENT and _waits(one))
    service.counted = Counted(size, now, waiting)
    return waiting


def placeable(
    reading: dict[str, Any], step: dict[str, Any] | None, unset: Collection[str] = ()
) -> bool:
    """Whether this reading could be placed on this step: it is a size, of what the step wants.

    ``unset``: comparative gauges that no setting standard is on record for.
    """
    if step is None or step["unit"] is None or step["kind"] in ("confirm", "zero"):
        return False
    if reading["placement"]["reason"]["code"] in NEVER_PLACED or reading["instrument"] in unset:
        return False
    unit = (reading["corrected"] or reading)["unit"]
    try:
        return dimension(unit) == dimension(step["unit"])
    except UnitError:
        return False


def _waits(reading: dict[str, Any]) -> bool:
    """Whether a person has yet to say where this reading belongs."""
    placement = reading["placement"]
    if "reason" not in placement or reading["decided_by"] != "rule":
        return False
    return bool(placement["reason"]["code"] != "zero-check")  # it is what it was announced as
