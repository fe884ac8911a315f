"""A bound on what a request may carry, counted as it comes (a length that is claimed may lie)."""

from __future__ import annotations

from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LARGEST_BODY = 1_048_576
"""Bytes. The spec of a large engine has some ten thousand."""
LARGEST_TRACE = 4 * LARGEST_BODY
"""Bytes where torque traces come: half a million samples, a hundred seconds at 5 kHz."""
TRACES = ("/v1/pulls", "/v1/calculations/trace", "/v1/calculations/turning")


class BodyLimit:
    """ASGI middleware; a longer body ends in ``413`` where the route reads it."""

    def __init__(
        self, app: ASGIApp, largest: int = LARGEST_BODY, largest_trace: int = LARGEST_TRACE
    ) -> None:
        self._app = app
        self._largest = largest
        self._largest_trace = largest_trace

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] in ("GET", "HEAD"):
            await self._app(scope, receive, send)
            return
        largest = self._largest_trace if scope["path"] in TRACES else self._largest
        got = 0

        async def counted() -> Message:
            nonlocal got
            message = await receive()
            got += len(message.get("body", b""))
            if got > largest:
                raise HTTPException(413, f"A body may have {largest} bytes at most.")
            return message

        await self._app(scope, counted, send)
