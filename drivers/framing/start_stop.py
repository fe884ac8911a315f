"""Messages between start and stop bytes.

::

    02 │ 4E 2B 30 30 32 35 2E 34 30 30 6D 6D │ 03 │ 37 42
    start            body                    stop  after the stop: the check

Start bytes inside a message mean that its end was lost: what came before them is handed out as
incomplete and a new message begins. So body and check must never hold the start bytes; a binary
body needs a fixed length.
"""

from __future__ import annotations

from drivers.framing.check import Check
from drivers.framing.fixed import MarkedFramer
from drivers.framing.frame import Fault, Item


class StartStopFramer(MarkedFramer):
    """Cuts messages that begin with ``start`` and end ``after_stop`` bytes behind ``stop``."""

    def __init__(
        self,
        *,
        start: bytes,
        stop: bytes,
        after_stop: int = 0,
        limit: int,
        patience: int,
        check: Check | None = None,
    ) -> None:
        """``start`` and ``stop`` share no byte. ``limit`` counts every byte of the message."""
        super().__init__(start=start, limit=limit, patience=patience, check=check)
        self._stop = stop
        self._after = after_stop

    def _cut(self, data: bytes, at: int) -> tuple[Item | None, int]:
        if not data.startswith(self._start, at):
            return self._noise(data, at)
        body, limit = at + len(self._start), at + self._limit
        stop = data.find(self._stop, body, limit - self._after)
        again = data.find(self._start, body, limit)
        if again >= 0 and (stop < 0 or again < stop):
            detail = "a new message began before this one ended"
            return Fault(data[at:again], "incomplete", detail), again
        if stop >= 0:
            end = stop + len(self._stop) + self._after
            return self._checked(data, at, end) if len(data) >= end else (None, at)
        if len(data) < limit:
            return None, at
        end = self._next_start(data, at, limit)
        return Fault(data[at:end], "too-long", f"no end within {self._limit} bytes"), end
