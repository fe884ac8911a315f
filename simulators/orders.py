"""What a simulator process is told: one JSON object a line, until the input ends."""

from __future__ import annotations

import json
import os
import queue
import signal
import threading
from typing import Any

Order = dict[str, Any]


class Orders:
    """Orders from a descriptor, in order. ``stop`` is set when it ends, or on SIGTERM or SIGINT."""

    def __init__(self, descriptor: int = 0) -> None:
        self.stop = threading.Event()
        self._descriptor = descriptor
        self._given: queue.SimpleQueue[Order | Exception | None] = queue.SimpleQueue()
        # A daemon on the bare descriptor: one that waits in sys.stdin holds a lock that the
        # interpreter wants at its end.
        threading.Thread(target=self._read, name="orders", daemon=True).start()

    def end_on_signals(self) -> None:
        """From now on SIGTERM and SIGINT end the orders. Main thread only."""
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, lambda *_: self._end())

    def next(self) -> Order | None:
        """The next order; None when there are no more. ValueError for a line that is none."""
        while not self.stop.is_set() or not self._given.empty():
            try:
                given = self._given.get(timeout=0.2)  # a signal must get its turn
            except queue.Empty:
                continue
            if isinstance(given, Exception):
                raise given
            return given
        return None

    def _end(self) -> None:
        self.stop.set()
        self._given.put(None)

    def _read(self) -> None:
        rest = b""
        while chunk := os.read(self._descriptor, 65536):
            *lines, rest = (rest + chunk).split(b"\n")
            for line in lines:
                if line.strip():
                    self._given.put(_order(line))
        self._end()


def _order(line: bytes) -> Order | Exception:
    try:
        order = json.loads(line)
    except ValueError as error:
        return ValueError(f"The order {line!r} is not JSON: {error}. Send one object a line.")
    if not isinstance(order, dict):
        return ValueError(f"The order {line!r} is not a JSON object.")
    return order
