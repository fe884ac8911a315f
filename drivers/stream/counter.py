"""The running counter of a stream: what it says has been lost."""

from __future__ import annotations

from typing import Final

REPEATED: Final = -1
RESTARTED: Final = -2


class Counter:
    """Counts messages, or samples, from 0 to ``wraps`` - 1 and begins again."""

    def __init__(self, wraps: int, step: int) -> None:
        """``step``: by how much it grows from one message to the next."""
        self._wraps = wraps
        self._step = step
        self._last: int | None = None

    def missed(self, number: int) -> int:
        """How far the counter of the next message has jumped: 0 where nothing was lost,
        ``REPEATED`` for the same message once more, ``RESTARTED`` where it went back."""
        last, self._last = self._last, number
        if last is None:
            return 0
        jump = (number - last - self._step) % self._wraps
        if not jump:
            return 0
        if number == last:
            return REPEATED
        return jump if 2 * jump <= self._wraps else RESTARTED
