"""The thread that looks at pulls: neither the event loop nor the one that writes waits for it.

A trace of a minute takes a good part of a second to be looked at and compressed. Pulls come out in
the order they went in; a press that came while one was looked at is written before it.
"""

from __future__ import annotations

import logging
import threading
from collections import deque
from collections.abc import Callable, Sequence
from contextlib import suppress
from queue import SimpleQueue
from typing import TYPE_CHECKING

from capture.reading import Pull, Undecodable

if TYPE_CHECKING:
    from capture.streamed import Analysed

_log = logging.getLogger(__name__)


class Analysing:
    """Begun with the first pull: most benches have no torque adapter."""

    def __init__(self, done: Callable[[Sequence[Analysed | Undecodable]], object]) -> None:
        """``done`` is called on the thread with each pull looked at, or with its samples where
        they make no trace."""
        self._done = done
        self._queue: SimpleQueue[Pull | None] = SimpleQueue()
        self._pending: deque[str] = deque()
        self._thread: threading.Thread | None = None

    def put(self, pull: Pull) -> None:
        """Takes a pull; returns at once."""
        if self._thread is None:
            name = "witnessmark-pulls"
            self._thread = threading.Thread(target=self._run, name=name, daemon=True)
            self._thread.start()
        self._pending.append(pull.instrument)
        self._queue.put(pull)

    def pending(self) -> str | None:
        """The instrument of the pull that is looked at, or will be next."""
        with suppress(IndexError):
            return self._pending[0]
        return None

    def stop(self) -> None:
        """Ends once everything there is has been handed on. Blocks, briefly."""
        if self._thread is not None:
            self._queue.put(None)
            self._thread.join()
            self._thread = None

    def _run(self) -> None:
        while (pull := self._queue.get()) is not None:
            self._done([_looked_at(pull)])
            self._pending.popleft()


def _looked_at(pull: Pull) -> Analysed | Undecodable:
    from capture.streamed import analysed

    try:
        return analysed(pull)
    except ValueError as error:
        return _kept(pull, "no-trace", str(error))
    except Exception as error:  # noqa: BLE001 # a fault of ours must not cost the samples; logged
        _log.exception("a pull of %s could not be looked at", pull.instrument)
        return _kept(pull, "fault", f"looking at it went wrong here: {error!r}")


def _kept(pull: Pull, code: str, why: str) -> Undecodable:
    """The samples of a pull as lines of text: what came is in the record in any case."""
    angle = pull.angle or ("",) * len(pull.torque)
    lines = (" ".join(filter(None, pair)) for pair in zip(pull.torque, angle, strict=True))
    detail = f"{len(pull.torque)} samples in {pull.unit}, torque and angle: {why}"
    if pull.incomplete is not None:
        detail = f"{detail} Incomplete: {pull.incomplete}."
    raw = "\n".join(lines).encode()
    return Undecodable(pull.port, pull.instrument, raw, code, detail, pull.stamp)
