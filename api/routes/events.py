"""The live side."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from api import queries
from api.answers import service_of
from api.live import EventStream, starting_point

router = APIRouter(prefix="/v1", tags=["events"])


@router.get("/events", response_model=None)
async def events(request: Request) -> Response:
    """Server-sent events: ``reading`` and ``entry`` with the ledger's seq as id, and without an
    id ``device``, ``pedal``, ``badge``, ``condition``, ``torque`` and ``ping``.
    ``Last-Event-ID`` resumes without loss or repeat.

    ``torque`` shows a pull while it lasts, twenty times a second at most: ``{"instrument",
    "state": "pulling" or "ended", "unit", "interval_us", "from", "torque": [decimal text, …],
    "angle": [decimal text, …] or null, "incomplete": null or why samples are missing}``; ``from``
    is the number of the first of these samples in the pull."""
    query = queries.asked(request, queries.Events)
    service = service_of(request)
    return EventStream(service, starting_point(request, query.after, service.pipeline.size))
