"""The build sheet: the document that leaves with an engine, as HTML and as PDF."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator
from typing import TYPE_CHECKING

from fastapi import APIRouter, Request, Response

from api import VERSION, queries
from api.answers import service_of, tag, tagged, unchanged, view, wait
from api.labels.catalogue import Labels, labels, languages
from api.labels.choose import labels_for, remember

if TYPE_CHECKING:
    from api.sheet.gather import Material
    from api.sheet.pdf import Paper

router = APIRouter(prefix="/v1/builds", tags=["builds"])

LETTER_REGIONS = frozenset({"US", "CA", "MX", "PH", "PR", "CL", "CO", "CR", "GT", "PA", "SV", "VE"})
"""Where Letter is the usual paper (CLDR, supplemental data on paper sizes, from memory)."""


@router.get("/{build}/sheet", response_model=None)
async def sheet_page(request: Request) -> Response:
    """The build sheet as one printable HTML file, in English or German; also of a build that is not
    finished: it says so."""
    build = queries.name_of(request, "build")
    queries.asked(request, queries.SheetPage)
    chosen = labels_for(request)
    etag = _tag(request, chosen.language)
    same = unchanged(request, etag)
    if same is not None:
        return same
    material = await _material(request, build)
    from api.sheet import html

    page, policy = await asyncio.to_thread(_html, material, build, chosen)
    headers = {**_headers(etag), "Content-Security-Policy": policy}
    response = Response(page.encode(), headers=headers, media_type=html.MEDIA)
    remember(request, response)
    return response


@router.get("/{build}/sheet.pdf", response_model=None)
async def sheet_pdf(request: Request) -> Response:
    """The same as PDF: tagged (PDF/UA-1), A4 or Letter. The same ledger gives the same bytes; the
    signed checkpoint and the bench's key travel inside as files."""
    build = queries.name_of(request, "build")
    query = queries.asked(request, queries.SheetPdf)
    chosen = labels_for(request)
    paper: Paper = query.paper or _usual_paper(request)
    etag = _tag(request, f"{chosen.language}-{paper}")
    same = unchanged(request, etag)
    if same is not None:
        return same
    async with _alone(request):
        material = await _material(request, build)
        data = await asyncio.to_thread(_pdf, material, chosen, paper)
    name = f'inline; filename="build-sheet-{material.glance.state["id"]}.pdf"'
    headers = {**_headers(etag), "Content-Disposition": name}
    return Response(data, headers=headers, media_type="application/pdf")


async def _material(request: Request, build: str) -> Material:
    """Raises NotFound."""
    from api.sheet.gather import gather
    from capture.inquiry.glance import still

    pipeline = service_of(request).pipeline
    kept = await view(request, lambda desk: still(desk, build, pipeline.size))
    # Signed after the state was taken, so that it covers every entry on the sheet.
    signed = await wait(pipeline.checkpoint())
    return await asyncio.to_thread(gather, pipeline.archive, kept, signed)


def _html(material: Material, build: str, chosen: Labels) -> tuple[str, str]:
    from api.sheet.compose import compose
    from api.sheet.html import html

    others = [labels(one) for one in languages() if one != chosen.language]
    return html(compose(material, chosen), build, chosen, others)


def _pdf(material: Material, chosen: Labels, paper: Paper) -> bytes:
    from api.sheet.compose import compose
    from api.sheet.pdf import pdf

    return pdf(compose(material, chosen), paper)


@contextlib.asynccontextmanager
async def _alone(request: Request) -> AsyncIterator[None]:
    """One PDF is set at a time: each takes a processor for a second and memory of its own."""
    state = request.app.state
    if not hasattr(state, "sheet_lock"):
        state.sheet_lock = asyncio.Lock()
    async with state.sheet_lock:
        yield


def _tag(request: Request, what: str) -> str:
    """The sheet depends on the ledger, on its language and paper, and on this program."""
    whole = tag(service_of(request)).strip('"')
    return f'"{whole}-{what}-{VERSION}"'


def _headers(etag: str) -> dict[str, str]:
    return {**tagged(etag), "Vary": "Accept-Language, Cookie"}


def _usual_paper(request: Request) -> Paper:
    """Letter where the first language asked for is that of a country that uses it."""
    first = request.headers.get("accept-language", "").partition(",")[0].partition(";")[0]
    return "letter" if first.strip()[-2:].upper() in LETTER_REGIONS and "-" in first else "a4"
