"""Bytes that came together: what one press sends, cut out of a stream by silence."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import NamedTuple

GAP = 0.05
"""Seconds without a byte that end a burst; at 1200 baud a byte takes 8 ms."""
LONGEST = 4096
"""Bytes, and ``OLDEST`` seconds, after which what never falls silent is handed on."""
OLDEST = 1.0


class Burst(NamedTuple):
    """Bytes between two silences."""

    time: str
    """When its first byte was read, RFC 3339 UTC."""
    raw: bytes
    source: str | None
    """Of a radio: the UUID of the characteristic that sent it."""
    whole: bool
    """Whether a silence ended it; else the next one goes on where it stops."""


class Bursts:
    """Cuts what comes; one for each port, with a silence of its own for each source."""

    def __init__(self, gap: float, done: Callable[[Burst], None], now: Callable[[], str]) -> None:
        """``gap`` in seconds; ``done`` is called in the event loop with each burst; ``now`` tells
        the time."""
        self._gap = gap
        self._done = done
        self._now = now
        self._open: dict[str | None, _Open] = {}

    def take(self, data: bytes, source: str | None = None) -> None:
        """Bytes that have just been read."""
        loop = asyncio.get_running_loop()
        burst = self._open.get(source)
        if burst is None:
            burst = self._open[source] = _Open(self._now(), loop.time() + OLDEST)
        elif burst.timer is not None:
            burst.timer.cancel()
        burst.data += data
        if len(burst.data) >= LONGEST or loop.time() >= burst.limit:
            self._hand_on(source, whole=False)
        else:
            burst.timer = loop.call_later(self._gap, self._hand_on, source)

    def end(self) -> None:
        """No more will come: hands on what is there."""
        for source in list(self._open):
            self._hand_on(source)

    def _hand_on(self, source: str | None, whole: bool = True) -> None:
        burst = self._open.pop(source)
        if burst.timer is not None:
            burst.timer.cancel()
        self._done(Burst(burst.time, bytes(burst.data), source, whole))


class _Open:
    """A burst that may go on."""

    def __init__(self, time: str, limit: float) -> None:
        self.time = time
        self.limit = limit
        self.data = bytearray()
        self.timer: asyncio.TimerHandle | None = None


def shown(raw: bytes, most: int = 48) -> str:
    """Bytes for a person: as text where they are text, else in hexadecimal."""
    part = raw[:most]
    more = "…" if len(raw) > most else ""
    body = part.rstrip(b"\r\n")
    if body and all(32 <= byte < 127 for byte in body):
        ends = part[len(body) :].replace(b"\r", b"\\r").replace(b"\n", b"\\n")
        return (body + ends).decode("ascii") + more
    return part.hex(" ") + more
