"""Torque traces as they were sent: numbers, a table, a picture."""

from __future__ import annotations

import asyncio
from typing import Any

import orjson
from fastapi import APIRouter, Request, Response

from api import queries
from api.answers import json_answer, service_of
from capture.errors import NotFound
from capture.trace.samples import Trace, Written
from capture.trace.store import digits, expand

router = APIRouter(prefix="/v1", tags=["readings"])
MEDIA = {"svg": "image/svg+xml", "csv": "text/csv", "json": "application/json"}
KEPT = {
    "Cache-Control": "max-age=31536000, immutable",
    "Vary": "Accept",
    # A picture opened by itself is a document: it may load and run nothing.
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'self'",
}


@router.get("/traces/{digest}", response_model=None)
async def get_trace(request: Request) -> Response:
    """A torque trace with the digits as sent: JSON, or CSV or a picture (SVG) where ``Accept`` asks
    for ``text/csv`` or ``image/svg+xml``, or ``as`` does.

    The picture shows torque above the resting zero over time, with what the analysis finds in it;
    with ``reading`` it names the instrument, and is read as that reading was (a pull or a turning
    test).
    """
    digest = queries.name_of(request, "digest")
    query = queries.asked(request, queries.Traces)
    archive = service_of(request).pipeline.archive
    blob = await asyncio.to_thread(archive.blob, digest)
    if blob is None:
        raise NotFound(
            f"There is no trace {digest}.", mend="Take its sha256 from the reading's trace."
        )
    reading = None
    if query.reading is not None:
        found = await asyncio.to_thread(archive.reading, query.reading)
        reading = None if found is None else orjson.loads(found)
        if reading is None or reading.get("trace", {}).get("sha256") != digest:
            raise NotFound(
                f"Reading {query.reading} was not made of this trace.",
                mend="Leave reading out, or take the seq of the reading that has this sha256.",
            )
    kind = query.kind or _accepted(request.headers.get("accept", ""))
    if kind == "svg":
        picture = await asyncio.to_thread(_picture, expand(blob), reading)
        return Response(picture, media_type=MEDIA["svg"], headers=KEPT)
    written = await asyncio.to_thread(digits, blob)
    if kind == "csv":
        return Response(_csv(written), media_type=MEDIA["csv"], headers=KEPT)
    return json_answer({"sha256": digest, **written._asdict()}, headers=KEPT)


def _accepted(accept: str) -> str:
    """What ``Accept`` asks for: the first of ours that it names; JSON where it names none."""
    named = [one.partition(";")[0].strip().lower() for one in accept.split(",")]
    return next((kind for one in named for kind, media in MEDIA.items() if one == media), "json")


def _picture(trace: Trace, reading: dict[str, Any] | None) -> str:
    from api.pictures.marks import marks_of
    from api.pictures.trace import draw

    if reading is None:
        return draw(trace, marks_of(trace), title="Torque")
    found = reading["trace"]["found"]
    marks = marks_of(
        trace,
        turning=found["kind"] == "turning",
        incomplete=(reading["trace"].get("incomplete") or {}).get("why", ""),
    )
    note = "Simulated: no real part is measured" if reading["simulated"] else ""
    return draw(
        trace,
        marks,
        title=f"Torque of {reading['instrument']}, reading {reading['seq']}",
        note=note,
    )


def _csv(written: Written) -> str:
    """A column each of seconds, torque and (where there is one) angle."""
    columns = [list(written.seconds), list(written.torque)]
    names = ["seconds", f"torque ({written.unit})"]
    if written.angle is not None:
        names.append("angle (°)")
        columns.append(list(written.angle))
    lines = [",".join(map(str, row)) for row in zip(*columns, strict=True)]
    return "\r\n".join([",".join(names), *lines, ""])
