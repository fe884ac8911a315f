"""Server-sent events: everything committed, in order, once; and news that is not history.

An event's id is a ledger sequence number. A client that comes back with ``Last-Event-ID`` (or
``?after=``) first gets what it missed from the archive, then goes live. The seam:

1. read the archive to its end (before subscribing, so that a long catch-up fills no buffer);
2. subscribe;
3. wait for the writer to answer once: a commit that was under way at 2 may have begun when nobody
   listened, so nothing is published for it, but it is on disk by then;
4. read the archive to its end again;
5. go live, dropping by their id the events that 4 gave already.

So nothing is left out and nothing is repeated.

A client too slow for the stream is dropped: it comes back by itself and catches up. It can never
slow capture. A stream that has nothing to say sends a named ``ping``, so that a page can tell a
quiet bench from a dead line.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncGenerator, Iterable
from contextlib import aclosing

from starlette.requests import Request
from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from api.answers import beyond
from api.service import Service
from capture.errors import RequestError
from capture.news import condition_event, device_event
from capture.stream import Event, Subscription

PAGE = 1000
RETRY_MS = 1000
"""How long a browser waits before it comes back."""


def starting_point(request: Request, after: int | None, size: int) -> int:
    """The last id the client has: ``Last-Event-ID`` first, then ``?after=``, else the newest."""
    given = request.headers.get("last-event-id")
    if given:
        if not (given.isascii() and given.isdigit() and len(given) < 19):
            raise RequestError(
                "The Last-Event-ID is not a sequence number.", mend="Send back an id as it came."
            )
        after = int(given)
    if after is None:
        return size
    if after > size:
        raise beyond("Event", after, size)
    return after


def encode(events: Iterable[Event]) -> bytes:
    """The events in the text form of the HTML standard, section 9.2. Data holds no line end."""
    return b"".join(
        b"event: %s\ndata: %s\n\n" % (event.name.encode(), event.data)
        if event.id is None
        else b"id: %d\nevent: %s\ndata: %s\n\n" % (event.id, event.name.encode(), event.data)
        for event in events
    )


class EventStream(Response):
    """The answer that does not end until the client goes, lags, or the service stops."""

    media_type = "text/event-stream"

    def __init__(self, service: Service, after: int) -> None:
        super().__init__(
            headers={"Cache-Control": "no-store", "X-Accel-Buffering": "no"},
        )
        del self.headers["content-length"]
        self._service = service
        self._after = after

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": self.raw_headers})
        sender = asyncio.create_task(self._send(send))
        gone = asyncio.create_task(_disconnected(receive))
        stopping = asyncio.create_task(self._service.stopping.wait())
        tasks = (sender, gone, stopping)
        try:
            await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for task in tasks:
                task.cancel()
            failure, *_ = await asyncio.gather(*tasks, return_exceptions=True)
        if isinstance(failure, Exception) and not isinstance(failure, OSError):
            raise failure
        if not gone.done() or gone.cancelled():
            await send({"type": "http.response.body", "body": b"", "more_body": False})

    async def _send(self, send: Send) -> None:
        async with aclosing(self._chunks()) as chunks:
            async for chunk in chunks:
                await send({"type": "http.response.body", "body": chunk, "more_body": True})

    async def _chunks(self) -> AsyncGenerator[bytes, None]:
        pipeline = self._service.pipeline
        yield b"retry: %d\n\n" % RETRY_MS + self._ping()
        async for chunk in self._catch_up():
            yield chunk
        subscription = pipeline.stream.subscribe()
        try:
            yield self._present()
            async for chunk in self._barrier(subscription):
                yield chunk
            async for chunk in self._catch_up():
                yield chunk
            async for chunk in self._live(subscription):
                yield chunk
        finally:
            subscription.close()

    async def _barrier(self, subscription: Subscription) -> AsyncGenerator[bytes, None]:
        """Returns once every commit begun before now has ended. While the store is in trouble
        that may take long, so news without an id goes out meanwhile; the rest is on disk by then
        and comes with the catch-up."""
        answer = asyncio.wrap_future(self._service.pipeline.view(lambda _desk: None))
        quiet = self._service.settings.ping_seconds
        while not answer.done() and not subscription.lagged:
            news = asyncio.create_task(subscription.next())
            try:
                await asyncio.wait(
                    (answer, news), timeout=quiet, return_when=asyncio.FIRST_COMPLETED
                )
            finally:
                news.cancel()
            yield self._ping()
            if news.done() and not news.cancelled():
                yield encode(event for event in news.result() if event.id is None)

    async def _catch_up(self) -> AsyncGenerator[bytes, None]:
        archive = self._service.pipeline.archive
        while events := await asyncio.to_thread(archive.events, self._after, PAGE):
            yield encode(events)
            self._after = events[-1].id or self._after

    async def _live(self, subscription: Subscription) -> AsyncGenerator[bytes, None]:
        quiet = self._service.settings.ping_seconds
        while not subscription.lagged:
            try:
                async with asyncio.timeout(quiet):
                    events = await subscription.next()
            except TimeoutError:
                yield self._ping()
                continue
            fresh = [event for event in events if event.id is None or event.id > self._after]
            if fresh:
                yield encode(fresh)
                # Ids grow within a batch, so the last one with an id is the newest.
                self._after = next((e.id for e in reversed(fresh) if e.id), self._after)

    def _present(self) -> bytes:
        """How the instruments and the store are right now; later changes come as events."""
        pipeline = self._service.pipeline
        states = [device_event(state) for state in pipeline.devices()]
        pedals = [] if self._service.pedals is None else self._service.pedals.events()
        badges = [] if self._service.badges is None else self._service.badges.events()
        return encode([*states, *pedals, *badges, condition_event(pipeline.condition())])

    def _ping(self) -> bytes:
        size = self._service.pipeline.size
        return b'event: ping\ndata: {"size":%d}\n\n' % size


async def _disconnected(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass
