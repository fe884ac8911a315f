"""The ledger: every entry as a feed, and what it takes to prove that none was changed."""

from __future__ import annotations

import asyncio
import io

from fastapi import APIRouter, Request, Response

from api import queries
from api.answers import json_answer, json_bytes, page, service_of, wait, within_ledger
from capture.archive import Archive
from capture.errors import NotFound, RequestError
from capture.ledger.checkpoint import open_checkpoint_text

router = APIRouter(prefix="/v1", tags=["ledger"])
NOT_KEPT = {"Cache-Control": "no-store"}


@router.get("/entries", response_model=None)
async def list_entries(request: Request) -> Response:
    """Every entry with a seq above ``after``: each in the very bytes that the tree hashes."""
    query = queries.asked(request, queries.Paged)
    await within_ledger(service_of(request), query.after)
    archive = service_of(request).pipeline.archive
    found = await asyncio.to_thread(archive.entries, after=query.after, limit=query.limit)
    return json_bytes(page("entries", found.items, found.next))


@router.get("/entries/{seq}", response_model=None)
async def get_entry(request: Request) -> Response:
    """One entry: the very bytes that the tree hashes."""
    seq = queries.seq_of(request)
    found = await asyncio.to_thread(service_of(request).pipeline.archive.entry, seq)
    if found is None:
        raise NotFound(f"There is no entry {seq}.", mend="The last one is at size in /v1/health.")
    return json_bytes(found)


@router.get("/ledger/checkpoint", response_model=None)
async def checkpoint(request: Request) -> Response:
    """A signed tree head: a C2SP tlog-checkpoint in a signed note. Keep it, elsewhere."""
    text = await wait(service_of(request).pipeline.checkpoint())
    return Response(text.encode(), headers=NOT_KEPT, media_type="text/plain; charset=utf-8")


@router.get("/ledger/key", response_model=None)
async def key(request: Request) -> Response:
    """The verifier key of this bench's checkpoints. Trust it only as far as where you got it."""
    text = service_of(request).pipeline.archive.verifier_key()
    return Response(text.encode(), headers=NOT_KEPT, media_type="text/plain; charset=utf-8")


@router.get("/ledger/proof/inclusion", response_model=None)
async def inclusion(request: Request) -> Response:
    """The audit path from one entry to the tree's root (RFC 9162 §2.1.3)."""
    query = queries.asked(request, queries.Inclusion)
    pipeline = service_of(request).pipeline
    total = pipeline.size if query.size is None else query.size
    _within(total, pipeline.size)
    if query.seq > total:
        raise RequestError(
            f"Entry {query.seq} is not in a tree of {total}.", mend=f"seq runs from 1 to {total}."
        )
    return json_answer(await asyncio.to_thread(pipeline.archive.inclusion, query.seq, total))


@router.get("/ledger/proof/consistency", response_model=None)
async def consistency(request: Request) -> Response:
    """Proof that the tree of size ``to`` only appends to the tree of size ``from``."""
    query = queries.asked(request, queries.Consistency)
    pipeline = service_of(request).pipeline
    total = pipeline.size if query.second is None else query.second
    _within(total, pipeline.size)
    if query.first > total:
        raise RequestError("The tree of size from is the larger one.", mend="Swap from and to.")
    return json_answer(await asyncio.to_thread(pipeline.archive.consistency, query.first, total))


@router.get("/ledger/bundle", response_model=None)
async def take_home(request: Request) -> Response:
    """Entries, with what they rest on, their proofs and a program that checks them anywhere."""
    query = queries.asked(request, queries.Bundle)
    if (query.build is None) == (query.entries is None):
        raise RequestError("A bundle is of a build or of some entries.", mend="Name one of them.")
    pipeline = service_of(request).pipeline
    signed = await wait(pipeline.checkpoint())
    data = await asyncio.to_thread(_bundle, pipeline.archive, query, signed)
    headers = {**NOT_KEPT, "Content-Disposition": 'attachment; filename="ledger-bundle.zip"'}
    return Response(data, headers=headers, media_type="application/zip")


def _bundle(archive: Archive, query: queries.Bundle, signed: str) -> bytes:
    from capture.takehome import bundle, selection

    if query.build is not None:
        found = selection.of_build(archive, query.build)
    else:
        found = selection.with_grounds(archive, map(int, (query.entries or "").split(",")))
    with io.BytesIO() as out:
        # what has been decided since is in the ledger, and not in what was signed
        size = open_checkpoint_text(signed)[0].size
        covered = [entry for entry in found if entry["seq"] <= size]
        bundle.write(out, archive, covered, signed, () if query.since is None else (query.since,))
        return out.getvalue()


def _within(size: int, newest: int) -> None:
    if size > newest:
        raise RequestError(
            f"This ledger has {newest} entries, not {size}.",
            mend="A checkpoint of a larger size is of another bench, or this store lost its tail.",
        )
