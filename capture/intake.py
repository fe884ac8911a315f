"""The bounded queue between what arrives and the one thread that writes.

Presses and requests keep the order they came in. When it is full, drivers are asked to stop
reading (``put`` answers False), so lateness shows and nothing is lost in silence.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Sequence
from typing import Generic, TypeVar

T = TypeVar("T")


class Intake(Generic[T]):
    """Many put, one takes."""

    def __init__(self, limit: int, on_room: Callable[[], None]) -> None:
        """``on_room`` is called from the taking thread when a full intake has room again."""
        self._limit = limit
        self._on_room = on_room
        self._items: deque[T] = deque()
        self._changed = threading.Condition(threading.Lock())
        self._full = False
        self._closed = False

    def __len__(self) -> int:
        return len(self._items)

    def put(self, items: Sequence[T]) -> bool:
        """Takes all of them in order; False when the caller should stop until there is room."""
        with self._changed:
            self._items.extend(items)
            self._full = len(self._items) >= self._limit
            self._changed.notify()
            return not self._full

    def take(self, most: int, timeout: float | None = None) -> list[T]:
        """Waits for items and takes up to ``most``; empty on timeout or once closed and empty."""
        with self._changed:
            if not self._items and not self._closed:
                self._changed.wait(timeout)
            items = self._items
            if len(items) <= most:
                taken = list(items)
                items.clear()
            else:
                taken = [items.popleft() for _ in range(most)]
            room = self._full and len(items) <= self._limit // 2
            if room:
                self._full = False
        if room:
            self._on_room()
        return taken

    @property
    def full(self) -> bool:
        return self._full

    @property
    def finished(self) -> bool:
        """Closed and empty."""
        with self._changed:
            return self._closed and not self._items

    def close(self) -> None:
        """No more will come; what is there can still be taken."""
        with self._changed:
            self._closed = True
            self._changed.notify()
