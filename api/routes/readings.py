"""Readings: pulled page by page, typed in, and what a person says about one."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime

from fastapi import APIRouter, Request, Response

from api import bodies, queries
from api.answers import (
    hand_in,
    json_answer,
    json_bytes,
    page,
    record,
    recorded,
    service_of,
    tag,
    tagged,
    unchanged,
    view,
    within_ledger,
)
from capture import command
from capture.errors import NotFound, RequestError
from capture.exports import chosen
from capture.inquiry.budget import budget
from capture.ledger.search import Filters
from capture.pulls import pull_of

router = APIRouter(prefix="/v1", tags=["readings"])


@router.get("/readings", response_model=None)
async def list_readings(request: Request) -> Response:
    """Readings with a seq above ``after``, oldest first.

    Ask again with ``after`` set to ``next``: nothing is missed and nothing comes twice.
    """
    query = queries.asked(request, queries.Readings)
    service = service_of(request)
    filters = filters_of(query)
    await within_ledger(service, query.after)
    etag = tag(service)
    if same := unchanged(request, etag):
        return same
    archive = service.pipeline.archive
    found = await asyncio.to_thread(
        archive.readings, after=query.after, limit=query.limit, filters=filters
    )
    if not found.items:
        await asyncio.to_thread(chosen.known, archive, filters)
    return json_bytes(page("readings", found.items, found.next), headers=tagged(etag))


def filters_of(query: queries.Chosen) -> Filters:
    """What was asked for, with its moments as the ledger writes them. Raises RequestError."""
    filters = Filters(
        build=query.build,
        instrument=query.instrument,
        since=moment("since", query.since),
        until=moment("until", query.until),
        operator=query.operator,
        result=query.result,
        placed=query.placed,
        reason=query.reason,
        corrected=query.corrected,
    )
    chosen.sensible(filters)
    return filters


@router.post("/readings", response_model=None)
async def type_reading(request: Request) -> Response:
    """A reading typed in by hand; placed and checked like any other, and marked as typed."""
    body = await bodies.read(request, bodies.TypedReading)
    outcome = await hand_in(request, body.command(), body.operator)
    return recorded(outcome, outcome.body, f"/v1/readings/{outcome.seq}")


@router.post("/pulls", response_model=None)
async def record_pull(request: Request) -> Response:
    """A torque trace: becomes a reading whose value is the torque that the fastener got."""
    body = await bodies.read(request, bodies.Pull)
    try:
        pull = await asyncio.to_thread(
            pull_of, body.instrument, body.written(), turning=body.turning
        )
    except ValueError as error:
        raise RequestError(str(error), mend="Check the samples.") from error
    outcome = await hand_in(request, pull, body.operator)
    return recorded(outcome, outcome.body, f"/v1/readings/{outcome.seq}")


@router.get("/readings/{seq}/budget", response_model=None)
async def reading_budget(request: Request) -> Response:
    """The uncertainty budget of one reading, line by line."""
    seq = queries.seq_of(request)
    archive = service_of(request).pipeline.archive
    press = await asyncio.to_thread(archive.envelope, seq)
    decision = await asyncio.to_thread(archive.decision, seq)
    if press is None or decision is None or press["kind"] != "press":
        raise NotFound(
            f"There is no reading {seq}.",
            mend="List the readings: GET /v1/readings, or /history in a browser.",
        )
    return json_answer(await view(request, lambda desk: budget(desk, press, decision)))


@router.get("/readings/{seq}", response_model=None)
async def get_reading(request: Request) -> Response:
    """One reading with its current placement and verdict."""
    seq = queries.seq_of(request)
    service = service_of(request)
    etag = tag(service)
    if same := unchanged(request, etag):
        return same
    found = await asyncio.to_thread(service.pipeline.archive.reading, seq)
    if found is None:
        raise NotFound(
            f"There is no reading {seq}.",
            mend="List the readings: GET /v1/readings, or /history in a browser. "
            "Other entries have a seq too.",
        )
    return json_bytes(found, headers=tagged(etag))


@router.post("/readings/{seq}/placements", response_model=None)
async def place_reading(request: Request) -> Response:
    """A person says which step a stored reading answers."""
    seq = queries.seq_of(request)
    body = await bodies.read(request, bodies.Placement)
    return await record(request, body.command(seq), body.operator)


@router.post("/readings/{seq}/corrections", response_model=None)
async def correct_reading(request: Request) -> Response:
    """A person corrects the value or unit; what the device sent stays beside it."""
    seq = queries.seq_of(request)
    body = await bodies.read(request, bodies.Correction)
    return await record(request, body.command(seq), body.operator)


@router.post("/readings/{seq}/voids", response_model=None)
async def void_reading(request: Request) -> Response:
    """A person takes a reading out of the count; it stays stored."""
    seq = queries.seq_of(request)
    body = await bodies.read(request, bodies.Reason)
    return await record(request, command.Void(seq, body.reason), body.operator)


def moment(name: str, text: str | None) -> str | None:
    """A moment as the ledger writes it: UTC, microseconds, ``Z``. Raises RequestError."""
    if text is None:
        return None
    mend = f"Write {name} like 2026-01-31T08:00:00Z (RFC 3339, with its offset)."
    try:
        # A plus sign in a query that was not encoded arrives as a space.
        given = datetime.fromisoformat(text.replace(" ", "+"))
        if given.tzinfo is None:
            raise RequestError(f"{name} has no offset from UTC.", mend=mend)
        utc = given.astimezone(UTC)
    except (ValueError, OverflowError):
        raise RequestError(f"{name} is not a moment.", mend=mend) from None
    # Not strftime: its %Y is not padded to four digits on every platform.
    return utc.replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"
