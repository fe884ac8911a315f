"""All that a bench page shows, as plain data of one moment."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Any

import orjson

from api.service import Service
from capture import view as views
from capture.reading import DeviceState

if TYPE_CHECKING:
    from capture.desk import Desk

RECENT = 200
"""How far back, in entries, readings that wait to be placed are looked for."""
FAR_BACK = 5000
"""How far back the last reading is looked for when there is none among the recent ones."""
PATIENCE_SECONDS = 1.0


def device_body(state: DeviceState) -> dict[str, Any]:
    """News of a connection as JSON-ready data."""
    return {
        "instrument": state.instrument,
        "state": state.state,
        "detail": state.detail,
        "at": state.stamp.at,
    }


async def bench_state(service: Service) -> dict[str, Any]:
    """Title, active build, its next step, the last reading, what waits to be placed, instruments,
    their connections, and whether readings are being stored.

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
    return {
        "title": service.bench.title,
        "bench": pipeline.bench,
        "size": size,
        "simulated": service.simulated,
        "known": bool(done),
        "last": recent[-1] if recent else None,
        "unplaced": [one for one in recent if _waits(one)],
        "devices": [device_body(state) for state in pipeline.devices()],
        "condition": pipeline.condition()._asdict(),
        **(service.told or NOTHING),
    }


NOTHING: dict[str, Any] = {"operator": None, "instruments": [], "build": None, "next": None}


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


def _waits(reading: dict[str, Any]) -> bool:
    """Whether a person has yet to say where this reading belongs."""
    return "reason" in reading["placement"] and reading["decided_by"] == "rule"
