"""Messages that end when nothing follows for a while.

::

    25 40 03 ········ 25 41 03 ········         dots: silence of at least the gap
"""

from __future__ import annotations

from drivers.framing.check import Check
from drivers.framing.frame import REST, Fault, Framer, Item


class SilenceFramer(Framer):
    """Takes what comes between two silences as one message."""

    def __init__(self, *, gap: int, limit: int, check: Check | None = None) -> None:
        """``gap``: nanoseconds of silence that end a message."""
        super().__init__(limit=limit, patience=gap, check=check)
        self._overlong = False

    def _cut(self, data: bytes, at: int) -> tuple[Item | None, int]:
        if len(data) - at <= self._limit:
            return None, at
        self._overlong = True
        end = at + self._limit
        return Fault(data[at:end], "too-long", f"no silence within {self._limit} bytes"), end

    def _left(self, rest: bytes) -> list[Item]:
        overlong, self._overlong = self._overlong, False
        if not rest:
            return []
        if overlong:
            return [Fault(rest, "too-long", REST)]
        return [self._verified(rest)]
