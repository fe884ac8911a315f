"""How long to wait before the next try: growing, capped, and never the same for two ports."""

from __future__ import annotations

from collections.abc import Callable


class Backoff:
    """Waits in seconds: ``first``, then ``factor`` times longer each time, at most ``cap``; each
    lengthened by up to ``jitter`` of itself, so that many ports do not try in step."""

    def __init__(
        self,
        random: Callable[[], float],
        *,
        first: float = 0.25,
        factor: float = 2.0,
        cap: float = 5.0,
        jitter: float = 0.25,
    ) -> None:
        """``random`` gives numbers from 0 to 1."""
        self._random = random
        self._first = first
        self._factor = factor
        self._cap = cap
        self._jitter = jitter
        self._next = first

    def wait(self) -> float:
        """Seconds to wait now."""
        wait = self._next
        self._next = min(self._cap, wait * self._factor)
        return min(self._cap, wait * (1 + self._jitter * self._random()))

    def reset(self) -> None:
        """Begins again with the first wait, since the last try went well."""
        self._next = self._first
