"""What is published once it is on disk, to whoever listens.

History (events with an id, the ledger's seq) is published only after its commit; a slow listener
is cut off, reconnects and catches up from the store, and can never slow capture.
"""

from __future__ import annotations

import asyncio
from typing import NamedTuple


class Event(NamedTuple):
    """One thing to tell listeners."""

    id: int | None
    """The ledger's seq; None for live news that is not history."""
    name: str
    """``reading``, ``entry``, ``device``, ``pedal`` or ``condition``."""
    data: bytes
    """JSON on one line."""


class Subscription:
    """One listener's queue. Used on the event loop only."""

    def __init__(self, stream: Stream, limit: int) -> None:
        self._stream = stream
        self._limit = limit
        self._events: list[Event] = []
        self._wake = asyncio.Event()
        self.lagged = False
        """It fell behind by more than its limit: events are missing, catch up from the store."""
        self.closed = False

    def put(self, events: list[Event]) -> None:
        if self.lagged:
            return
        if len(self._events) + len(events) > self._limit:
            self.lagged = True
            self._events.clear()
        else:
            self._events += events
        self._wake.set()

    async def next(self) -> list[Event]:
        """Waits for news and gives all there is, in order; empty once closed or lagged."""
        while not self._events and not self.lagged and not self.closed:
            self._wake.clear()
            await self._wake.wait()
        events, self._events = self._events, []
        return events

    def close(self) -> None:
        self.closed = True
        self._wake.set()
        self._stream.drop(self)


class Stream:
    """Hands events to every subscription. Used on the event loop only."""

    def __init__(self) -> None:
        self._subscriptions: set[Subscription] = set()

    @property
    def listeners(self) -> int:
        return len(self._subscriptions)

    def subscribe(self, limit: int = 10_000) -> Subscription:
        """A new listener, from now on."""
        subscription = Subscription(self, limit)
        self._subscriptions.add(subscription)
        return subscription

    def publish(self, events: list[Event]) -> None:
        for subscription in self._subscriptions:
            subscription.put(events)

    def drop(self, subscription: Subscription) -> None:
        self._subscriptions.discard(subscription)

    def close(self) -> None:
        """Ends every subscription."""
        for subscription in list(self._subscriptions):
            subscription.close()
