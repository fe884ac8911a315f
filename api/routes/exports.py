"""Readings as files for other programs."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from datetime import UTC, datetime

from fastapi import APIRouter, Request, Response
from fastapi.responses import StreamingResponse

from api import queries
from api.answers import service_of
from api.routes.readings import filters_of
from capture.archive import Archive
from capture.exports import chosen
from capture.ledger.search import Filters

router = APIRouter(prefix="/v1", tags=["readings"])


@router.get("/exports/readings", response_model=None)
async def export_readings(request: Request) -> Response:
    """The readings that the filters leave, each with the decision that counts for it, as a file.

    It goes as far as the ledger went when it was asked for. Where the answer breaks off, the file
    is not whole: ask again.
    """
    query = queries.asked(request, queries.Exports)
    archive = service_of(request).pipeline.archive
    filters = filters_of(query)
    now = datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    chunks = await asyncio.to_thread(_chunks, archive, query.form, filters, now)
    from capture.exports.formats import FORMATS

    form = FORMATS[query.form]
    headers = {
        "Cache-Control": "no-store",
        "Content-Disposition": f'attachment; filename="readings.{form.suffix}"',
        "Content-Type": form.media,
    }
    return StreamingResponse(chunks, headers=headers)


def _chunks(archive: Archive, form: str, filters: Filters, now: str) -> Iterator[bytes]:
    from capture.exports.formats import written
    from capture.exports.grounds import Kept

    chosen.known(archive, filters)
    found = chosen.readings(archive, filters, archive.size())
    return written(form, found, Kept(archive), now)
