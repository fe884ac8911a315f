"""The auditor's pages: the raw history, one reading from bytes to verdict, any entry."""

from __future__ import annotations

import asyncio
from contextlib import suppress
from typing import TYPE_CHECKING, Any

from fastapi import APIRouter, Request, Response

from api import queries
from api.answers import service_of, view, wait
from api.placed import Places
from capture.archive import Archive
from capture.errors import CaptureError, NotFound

if TYPE_CHECKING:
    from api.history.asked import Search
    from api.history.proof import Shown
    from capture.desk import Desk

router = APIRouter(include_in_schema=False)


@router.get("/history")
async def history(request: Request) -> Response:
    """Every reading, newest first, and the filters that leave some of them."""
    from api.history import asked, listed
    from api.labels.choose import labels_for
    from api.pages.render import html

    search, wrong = asked.heard(asked.given(request))
    archive = service_of(request).pipeline.archive
    status, page = 422 if wrong else 200, listed.NOTHING
    try:
        page = page if wrong else await asyncio.to_thread(listed.listed, archive, search)
    except NotFound:
        status = 404
    if status != 200:
        wrong += await asyncio.to_thread(asked.unknown, archive, search)
    choices = await asyncio.to_thread(listed.choices, archive)
    builds, places = await _builds(request, search, page.rows)
    return html(
        request,
        "history.html",
        "history",
        status=status,
        search=search,
        wrong=wrong,
        page=page,
        choices=choices,
        builds=builds,
        places=places,
        exports=[] if wrong else listed.exports(search, page.rows),
        words=listed.words(labels_for(request), choices["reason"]),
    )


BUILDS_MOST = 200
"""Builds offered by the form, beside the one that was asked for."""


async def _builds(
    request: Request, search: Search, rows: list[dict[str, Any]]
) -> tuple[dict[str, str], dict[str, Places]]:
    """Title by id of the builds to choose from and of those in the rows, the newest first, and what
    the places of the latter are called; none while the state cannot be told."""
    wanted = {row["placement"]["build"] for row in rows} | {search.values.get("build")}

    def found(desk: Desk) -> tuple[dict[str, str], dict[str, Places]]:
        newest = list(desk.cards.values())[::-1]
        cards = [*newest[:BUILDS_MOST], *(one for one in newest[BUILDS_MOST:] if one.id in wanted)]
        specs = {one.id: desk.specs[one.spec].spec for one in cards if one.id in wanted}
        return {one.id: one.title for one in cards}, {
            name: Places(spec) for name, spec in specs.items()
        }

    with suppress(CaptureError):
        return await view(request, found)
    return {}, {}


@router.get("/readings/{seq}")
async def reading(request: Request) -> Response:
    """One reading from its bytes to its verdict."""
    from api.history import one
    from api.history.asked import Search, given
    from api.pages.render import html

    seq = queries.seq_of(request)
    search = Search(given(request))
    archive = service_of(request).pipeline.archive
    found = await asyncio.to_thread(one.one, archive, seq, search)
    state: dict[str, Any] = {}
    with suppress(CaptureError):
        state = await view(
            request, lambda desk: one.of_state(desk, found["press"], found["decision"])
        )
    rows = [{"placement": each} for each in (found["reading"]["placement"], *found["decisions"])]
    builds, places = await _builds(request, search, rows)
    proof = await _proof(request, archive, seq)
    return html(
        request,
        "reading.html",
        "history",
        builds=builds,
        places=places,
        search=search,
        state=state,
        proof=proof,
        **found,
    )


@router.get("/entries")
async def entries(request: Request) -> Response:
    """Everything that the ledger holds, newest first."""
    from api.history import entry
    from api.pages.render import html
    from capture.entry import Kind

    given = {name: text for name, text in request.query_params.items() if text}
    query = queries.checked(given, queries.Entries)
    archive = service_of(request).pipeline.archive
    page = await asyncio.to_thread(entry.listed, archive, query.before, query.after, query.kind)
    kinds = [kind.value for kind in Kind]
    return html(request, "history_entries.html", "history", kinds=kinds, **page)


@router.get("/entries/{seq}")
async def one_entry(request: Request) -> Response:
    """One entry, as the tree hashes it."""
    from api.history import entry
    from api.pages.render import html

    seq = queries.seq_of(request)
    archive = service_of(request).pipeline.archive
    found = await asyncio.to_thread(entry.entry, archive, seq)
    proof = await _proof(request, archive, seq)
    return html(request, "entry.html", "history", proof=proof, **found)


async def _proof(request: Request, archive: Archive, seq: int) -> Shown | None:
    """The entry's proof under the newest checkpoint kept, or under one that is signed now where
    that does not cover it; None while none can be signed."""
    from api.history.proof import shown

    signed = await asyncio.to_thread(archive.checkpoint)
    found = None if signed is None else await asyncio.to_thread(shown, archive, seq, signed)
    if found is not None:
        return found
    with suppress(CaptureError, TimeoutError):
        signed = await wait(service_of(request).pipeline.checkpoint())
        return await asyncio.to_thread(shown, archive, seq, signed)
    return None
