"""Messages of a fixed length, with or without start bytes.

::

    A5 5A │ 00 18 63 00 00 FD │ 5D 1C           start, body, check: length 10
    30 32 35 2E 34 30 30                        no start: length 7

With start bytes, what stands before them is noise, and after a wrong check the search goes on at
the next start bytes inside the frame, so that a message that follows a broken one is not lost with
it. Without start bytes only a silence tells where a message begins.
"""

from __future__ import annotations

from drivers.framing.check import Check
from drivers.framing.frame import PIECE, Fault, Framer, Item, held


class MarkedFramer(Framer):
    """What framers share whose messages begin with start bytes."""

    def __init__(
        self, *, start: bytes, limit: int, patience: int, check: Check | None = None
    ) -> None:
        super().__init__(limit=limit, patience=patience, check=check)
        self._start = start

    def _noise(self, data: bytes, at: int) -> tuple[Item | None, int]:
        """What stands before the next start bytes. To be called when none stand at ``at``."""
        end = data.find(self._start, at, at + PIECE + len(self._start))
        if end < 0:
            if len(data) - at < PIECE + len(self._start):
                return None, at
            end = at + PIECE
        return Fault(data[at:end], "noise", f"{end - at} bytes outside of any message"), end

    def _checked(self, data: bytes, at: int, end: int) -> tuple[Item | None, int]:
        """The frame ``data[at:end]``, or as much of it as surely is no message."""
        item = self._verified(data[at:end])
        if isinstance(item, Fault):
            end = self._next_start(data, at, end)
            item = item._replace(raw=data[at:end])
        return item, end

    def _next_start(self, data: bytes, at: int, end: int) -> int:
        """Where a message may begin after ``at`` and before ``end``; else ``end``."""
        found = data.find(self._start, at + 1, end)
        return found if found >= 0 else end - held(data, at + 1, end, self._start)

    def _left(self, rest: bytes) -> list[Item]:
        # before any whole start bytes there is noise, not half a message
        if rest and not rest.startswith(self._start):
            return [Fault(rest, "noise", f"{len(rest)} bytes outside of any message")]
        return super()._left(rest)


class FixedFramer(MarkedFramer):
    """Cuts messages of ``length`` bytes."""

    def __init__(
        self, *, length: int, start: bytes = b"", patience: int, check: Check | None = None
    ) -> None:
        super().__init__(start=start, limit=length, patience=patience, check=check)

    def _cut(self, data: bytes, at: int) -> tuple[Item | None, int]:
        if not data.startswith(self._start, at):
            return self._noise(data, at)
        end = at + self._limit
        if len(data) < end:
            return None, at
        if not self._start:
            return self._verified(data[at:end]), end
        return self._checked(data, at, end)
