"""A build at a glance, asked of the running service: for its page and its sheet."""

from __future__ import annotations

import asyncio

from starlette.requests import Request

from api.answers import service_of, view
from capture.archive import Archive
from capture.inquiry.glance import Glance, Most, Still, glance, presses_wanted, still


async def glanced(request: Request, build: str, most: Most) -> Glance:
    """Raises NotFound. Only a copy is made where readings are stored; the rest has a thread."""
    pipeline = service_of(request).pipeline
    kept = await view(request, lambda desk: still(desk, build, pipeline.size))
    return await asyncio.to_thread(_looked, pipeline.archive, kept, most)


def _looked(archive: Archive, kept: Still, most: Most) -> Glance:
    entries = archive.entries_of_build(kept.build.id)
    presses = archive.envelopes(presses_wanted(kept, most))
    last = archive.envelope(kept.size)
    return glance(kept, entries, presses, "" if last is None else last["at"], most)
