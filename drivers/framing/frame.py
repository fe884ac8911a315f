"""Where a message begins and ends: what every framer answers, and what they share.

A framer is fed bytes and answers with whole messages and with faults, in the order of the bytes.
It reads no clock, waits for nothing and knows no port: the time of arrival is handed in. Each byte
fed comes back exactly once, in a message or in a fault (empty lines excepted), and how the bytes
were cut into chunks changes nothing: whatever a framer decides, it decides from the fewest bytes
that settle it.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import NamedTuple

from drivers.framing.check import Check

PIECE = 1024
"""Bytes. Noise is handed out in pieces no longer than this, not byte by byte."""

REST = "the rest of a message that is too long"


class Fault(NamedTuple):
    """Bytes that make no message."""

    raw: bytes
    code: str
    """``noise``, ``too-long``, ``check`` or ``incomplete``."""
    detail: str
    """For a person."""


Item = bytes | Fault
"""A whole message, with what frames it, or a fault."""


class Framer(ABC):
    """Cuts a stream of bytes into messages."""

    def __init__(self, *, limit: int, patience: int, check: Check | None = None) -> None:
        """``limit``: bytes of the longest message. ``patience``: nanoseconds of silence after
        which bytes that are no whole message are handed out as a fault."""
        self._limit = limit
        self._patience = patience
        self._check = check
        self._rest = b""
        self._heard = 0

    def feed(self, chunk: bytes, now: int) -> list[Item]:
        """The messages and faults that ``chunk``, arrived at ``now`` (ns), completes."""
        self._heard = now
        data = self._rest + chunk if self._rest else chunk
        items: list[Item] = []
        at = 0
        while at < len(data):
            item, end = self._cut(data, at)
            if end == at:
                break
            if item is not None:
                items.append(item)
            at = end
        self._rest = data[at:]
        return items

    @property
    def due(self) -> int | None:
        """When (ns) ``silence`` has something to say unless bytes come first; None when idle."""
        return self._heard + self._patience if self._pending else None

    def silence(self, now: int) -> list[Item]:
        """What is to be said at ``now`` (ns) because nothing came since the last bytes.

        To be called only when no bytes are waiting to be read: after a stall of the reader, bytes
        that came long ago would otherwise be cut in two, and the second half of a number is a
        number too.
        """
        due = self.due
        return self.drain() if due is not None and now >= due else []

    def drain(self) -> list[Item]:
        """What is left, now that no more bytes will follow. The framer is as new afterwards."""
        rest, self._rest = self._rest, b""
        return self._left(rest)

    @property
    def _pending(self) -> bool:
        return bool(self._rest)

    @abstractmethod
    def _cut(self, data: bytes, at: int) -> tuple[Item | None, int]:
        """The first item of ``data[at:]``, or None to drop bytes, and where it ends; an end of
        ``at`` asks for more bytes."""

    def _left(self, rest: bytes) -> list[Item]:
        if not rest:
            return []
        return [Fault(rest, "incomplete", f"{len(rest)} bytes, then silence: half a message")]

    def _verified(self, frame: bytes) -> Item:
        wrong = self._check.fault(frame) if self._check else None
        return frame if wrong is None else Fault(frame, "check", wrong)


def held(data: bytes, at: int, end: int, mark: bytes) -> int:
    """How many of the last bytes of ``data[at:end]`` may be the beginning of ``mark``."""
    for count in range(min(len(mark) - 1, end - at), 0, -1):
        if data.startswith(mark[:count], end - count):
            return count
    return 0
