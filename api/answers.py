"""Answers made of bytes the ledger already has, and the little that a route needs around them."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from typing import TYPE_CHECKING, TypeVar

import orjson
from starlette.requests import Request
from starlette.responses import Response

from api.service import Service
from capture.command import Command
from capture.errors import Conflict, NotStored, OutcomeUnknown, RequestError
from capture.request import Outcome

if TYPE_CHECKING:
    from capture.desk import Desk

T = TypeVar("T")
MEDIA_TYPE = "application/json"
LONGEST_KEY = 200
PATIENCE_SECONDS = 10.0


def service_of(request: Request) -> Service:
    """The running bench behind this request."""
    service = request.app.state.service
    assert isinstance(service, Service)
    return service


def json_bytes(body: bytes, status: int = 200, headers: dict[str, str] | None = None) -> Response:
    """An answer from bytes that are JSON already."""
    return Response(body, status, headers, MEDIA_TYPE)


def json_answer(body: object, status: int = 200, headers: dict[str, str] | None = None) -> Response:
    """An answer from plain data."""
    return json_bytes(orjson.dumps(body), status, headers)


def page(name: str, items: Sequence[bytes], following: int) -> bytes:
    """``{name: [items], "next": following}``, the items' bytes as they stand in the archive."""
    return b'{"%s":[%s],"next":%d}' % (name.encode(), b",".join(items), following)


async def view(request: Request, what: Callable[[Desk], T]) -> T:
    """What ``what`` gives for the bench's state as of now.

    Raises NotStored when the store has been in trouble for so long that nobody wants to wait: the
    state is what is on disk, and that is not known until the store is well again.
    """
    pipeline = service_of(request).pipeline
    try:
        return await wait(pipeline.view(what))
    except TimeoutError:
        raise NotStored(
            f"The state cannot be told while the store is in trouble. {pipeline.condition().detail}"
        ) from None


async def wait(future: Future[T]) -> T:
    """The future's result. A request that goes away does not cancel what was handed in.

    Raises TimeoutError.
    """
    async with asyncio.timeout(PATIENCE_SECONDS):
        return await asyncio.shield(asyncio.wrap_future(future))


async def hand_in(
    request: Request, command: Command, operator: str | None, key: str | None = None
) -> Outcome:
    """Hands in a command under the request's Idempotency-Key, or the ``key`` that a form carries;
    returns once it is on disk.

    Raises what the pipeline raises, and OutcomeUnknown when the store keeps it waiting.
    """
    key = key or request.headers.get("idempotency-key")
    if key is not None and not (0 < len(key) <= LONGEST_KEY):
        raise RequestError(
            f"The Idempotency-Key has {len(key)} characters.",
            mend=f"Use 1 to {LONGEST_KEY}; a UUID does well.",
        )
    pipeline = service_of(request).pipeline
    try:
        return await wait(pipeline.submit(command, operator=operator, key=key))
    except TimeoutError:
        raise OutcomeUnknown(
            f"The store is in trouble and keeps this waiting. {pipeline.condition().detail}"
        ) from None


async def record(request: Request, command: Command, operator: str | None) -> Response:
    """Hands in a command and answers with what was recorded."""
    outcome = await hand_in(request, command, operator)
    return recorded(outcome, outcome.body)


def recorded(outcome: Outcome, body: object, location: str | None = None) -> Response:
    """201 for something new, 200 for what was there before."""
    headers = None if location is None else {"Location": location}
    return json_answer(body, 201 if outcome.created else 200, headers)


async def within_ledger(service: Service, after: int) -> None:
    """Raises Conflict where ``after`` is beyond the ledger's end: the caller knows another store.

    What a page called ``next`` is on disk, and may be so a moment before the pipeline's size says
    it; so the disk has the last word.
    """
    pipeline = service.pipeline
    if after <= pipeline.size:
        return
    size = await asyncio.to_thread(pipeline.archive.size)
    if after > size:
        raise beyond("Entry", after, size)


def beyond(what: str, after: int, size: int) -> Conflict:
    """The error for a place in the ledger that it does not have."""
    return Conflict(
        f"{what} {after} is not in this ledger, which ends at {size}.",
        mend="This may be another store than before: begin again with ?after=0.",
    )


def tag(service: Service) -> str:
    """An ETag for whatever depends on the ledger alone: it changes when the ledger grows.

    Taken before the state is read, so that it is never newer than what it names.
    """
    return f'"{service.pipeline.bench[:16]}-{service.pipeline.size}"'


def unchanged(request: Request, etag: str) -> Response | None:
    """304 when the caller holds this state already (RFC 9110 §13.1.2), else None."""
    held = request.headers.get("if-none-match", "")
    names = {name.strip().removeprefix("W/") for name in held.split(",")}
    if etag in names or held.strip() == "*":
        return Response(status_code=304, headers={"ETag": etag})
    return None


def tagged(etag: str) -> dict[str, str]:
    """Headers of an answer that may be kept, but must be asked about again."""
    return {"ETag": etag, "Cache-Control": "private, no-cache"}
