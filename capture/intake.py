"""The bounded queue between what arrives and the one thread that writes.

Presses and requests keep the order they came in. When it is full, drivers are asked to stop
reading (``put`` answers False), so lateness shows and nothing is lost in silence.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from queue import Empty, SimpleQueue
from typing import Generic, TypeVar

T = TypeVar("T")


class Intake(Generic[T]):
    """Many put, one takes. A ``SimpleQueue`` hands over quicker than a condition would, and the
    hand-over is a good part of what a lone press takes."""

    def __init__(self, limit: int, on_room: Callable[[], None]) -> None:
        """``on_room`` is called from the taking thread when a full intake has room again."""
        self._limit = limit
        self._on_room = on_room
        self._queue: SimpleQueue[Sequence[T] | None] = SimpleQueue()
        self._counting = threading.Lock()
        self._count = 0
        self._full = False
        self._rest: list[T] = []
        self._closed = False

    def __len__(self) -> int:
        return self._count

    def put(self, items: Sequence[T]) -> bool:
        """Takes all of them in order; False when the caller should stop until there is room."""
        with self._counting:
            self._count += len(items)
            if self._count >= self._limit:
                self._full = True
            full = self._full  # until it is half empty, whoever asks: they all wait for one word
        self._queue.put(items)
        return not full

    def take(self, most: int, timeout: float | None = None) -> list[T]:
        """Waits for items and takes up to ``most``; empty on timeout or once closed and empty."""
        items = self._rest
        try:
            if not items and not self._closed:
                self._add(items, self._queue.get(timeout=timeout))
            while len(items) < most:
                self._add(items, self._queue.get_nowait())
        except Empty:
            pass
        self._rest = items[most:]
        del items[most:]
        self._taken(len(items))
        return items

    def _add(self, items: list[T], more: Sequence[T] | None) -> None:
        if more is None:
            self._closed = True
        else:
            items.extend(more)

    def _taken(self, number: int) -> None:
        with self._counting:
            self._count -= number
            room = self._full and self._count <= self._limit // 2
            if room:
                self._full = False
        if room:
            self._on_room()

    @property
    def finished(self) -> bool:
        """Closed and empty; asked on the taking thread."""
        return self._closed and not self._rest and self._queue.empty()

    def close(self) -> None:
        """No more will come; what is there can still be taken."""
        self._queue.put(None)
