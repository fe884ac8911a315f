"""Messages that end with a terminator.

::

    2B 32 35 2E 34 30 30 20 6D 6D │ 0D          one of several single bytes, or
    2B 32 35 2E 34 30 30 20 6D 6D │ 0D 0A       one terminator of any length

With CR and LF both named as single-byte terminators, CR, LF, CR LF and LF CR all end a line: the
message ends at the first of the two, and the empty line before the second is dropped. So a device
that sends CR alone is heard at once, and the message is the same however its bytes were cut.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from drivers.framing.check import Check
from drivers.framing.frame import PIECE, REST, Fault, Framer, Item, held


class TerminatorFramer(Framer):
    """Cuts at a terminator; the message's bytes include it."""

    def __init__(
        self,
        *,
        terminators: Sequence[bytes],
        limit: int,
        patience: int,
        check: Check | None = None,
    ) -> None:
        """``terminators``: several of one byte each, or one of any length. ``limit`` counts the
        terminator too."""
        super().__init__(limit=limit, patience=patience, check=check)
        self._mark = terminators[0]
        self._overlong = False
        either = b"|".join(re.escape(mark) for mark in terminators)
        self._end = re.compile(either)
        marks = b"".join(re.escape(mark) for mark in terminators)
        self._lines = re.compile(b"[^%b]+[%b]" % (marks, marks)) if len(self._mark) == 1 else None
        self._marks = tuple(terminators)

    def feed(self, chunk: bytes, now: int) -> list[Item]:
        """See ``Framer.feed``; many whole lines at once are cut in one go."""
        if self._overlong:
            return super().feed(chunk, now)
        self._heard = now
        data = self._rest + chunk if self._rest else chunk
        end = max(map(data.rfind, self._marks))
        if end < 0:
            lines: list[bytes] = []
            rest = data
        else:
            end += len(self._mark)
            lines = self._whole(data, end)
            rest = data[end:]
        if len(rest) >= self._limit or (lines and len(max(lines, key=len)) > self._limit):
            self._rest = b""
            return super().feed(data, now)
        self._rest = rest
        if self._check is None:
            return lines  # type: ignore[return-value] # a fresh list of messages alone
        return [self._verified(line) for line in lines]

    def _whole(self, data: bytes, end: int) -> list[bytes]:
        if self._lines is not None:
            # the end keeps the pattern from trying every byte of an unfinished line
            return self._lines.findall(data, 0, end)
        mark = self._mark
        return [part + mark for part in data[:end].split(mark) if part]

    def _cut(self, data: bytes, at: int) -> tuple[Item | None, int]:
        limit = max(self._limit, PIECE) if self._overlong else self._limit
        found = self._end.search(data, at, at + limit)
        if found is not None:
            overlong, self._overlong = self._overlong, False
            line = data[at : found.end()]
            if found.start() == at:
                return None, found.end()
            if overlong:
                return Fault(line, "too-long", REST), found.end()
            return self._verified(line), found.end()
        if len(data) - at < limit:
            return None, at
        end = at + limit - held(data, at, at + limit, self._mark)
        detail = f"no end within {limit} bytes"
        self._overlong = True
        return Fault(data[at:end], "too-long", detail), end

    @property
    def _pending(self) -> bool:
        return bool(self._rest) or self._overlong

    def _left(self, rest: bytes) -> list[Item]:
        overlong, self._overlong = self._overlong, False
        if overlong and rest:
            return [Fault(rest, "too-long", REST)]
        return super()._left(rest)
