"""A bound on what a request may carry, counted as it comes (a length that is claimed may lie)."""

from __future__ import annotations

from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LARGEST_BODY = 1_048_576
"""Bytes. The spec of a large engine has some ten thousand."""


class BodyLimit:
    """ASGI middleware; a longer body ends in ``413`` where the route reads it."""

    def __init__(self, app: ASGIApp, largest: int = LARGEST_BODY) -> None:
        self._app = app
        self._largest = largest

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] in ("GET", "HEAD"):
            await self._app(scope, receive, send)
            return
        got = 0

        async def counted() -> Message:
            nonlocal got
            message = await receive()
            got += len(message.get("body", b""))
            if got > self._largest:
                raise HTTPException(413, f"A body may have {self._largest} bytes at most.")
            return message

        await self._app(scope, counted, send)
