"""A port read by a thread of its own: on Windows, and for URLs that have no descriptor."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from concurrent.futures import Executor
from typing import Any

from drivers.transports.reason import lost as gone
from drivers.transports.transport import Lost, Received

CHUNK = 65536
"""Bytes taken at once."""


class ThreadedTransport:
    """A pyserial port with a reader thread. The thread reads the next chunk only when the loop has
    taken the one before, so what nobody takes waits in the system's buffer."""

    def __init__(
        self, port: Any, device: str, loop: asyncio.AbstractEventLoop, executor: Executor
    ) -> None:
        self.device = device
        self._port = port
        self._loop = loop
        self._executor = executor
        self._received: Received | None = None
        self._lost: Lost | None = None
        self._may_read = threading.Event()
        self._closing = False
        self._paused = False
        self._taken = True
        name = f"reader of {device}"
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)

    def start(self, received: Received, lost: Lost) -> None:
        self._received, self._lost = received, lost
        self._may_read.set()
        self._thread.start()

    def pause(self) -> None:
        self._paused = True
        self._may_read.clear()

    def resume(self) -> None:
        self._paused = False
        if self._taken:
            self._may_read.set()

    def write(self, data: bytes) -> None:
        if self._closing:
            raise gone(self.device, None)
        # requests are a few bytes; still, a full line must not stop the loop
        self._loop.run_in_executor(self._executor, self._write, data)

    async def close(self) -> None:
        if self._closing:
            return
        self._closing = True
        self._lost = None
        self._may_read.set()
        await asyncio.shield(self._loop.run_in_executor(self._executor, self._close))

    def _run(self) -> None:
        while True:
            self._may_read.wait()
            if self._closing:
                return
            try:
                chunk = self._port.read(1)
                waiting = self._port.in_waiting if chunk else 0
                if waiting:
                    chunk += self._port.read(min(waiting, CHUNK))
            except (OSError, TypeError, ValueError, AttributeError) as error:
                # pyserial trips over its own closed handles in more ways than one
                self._post(self._fail, error)
                return
            if chunk:
                self._taken = False
                self._may_read.clear()
                self._post(self._hand_over, chunk)

    def _post(self, what: Any, argument: object) -> None:
        with contextlib.suppress(RuntimeError):  # the loop has ended
            self._loop.call_soon_threadsafe(what, argument)

    def _hand_over(self, chunk: bytes) -> None:
        if self._closing or self._received is None:
            return
        self._received(chunk)
        self._taken = True
        if not self._paused:
            self._may_read.set()

    def _fail(self, error: Exception) -> None:
        lost, self._lost = self._lost, None
        if lost is not None:
            lost(gone(self.device, error))

    def _write(self, data: bytes) -> None:
        try:
            self._port.write(data)
        except (OSError, TypeError, ValueError, AttributeError) as error:
            self._post(self._fail, error)

    def _close(self) -> None:
        cancel = getattr(self._port, "cancel_read", None)
        if cancel is not None:
            with contextlib.suppress(OSError, TypeError, AttributeError):
                cancel()
        with contextlib.suppress(OSError, TypeError, AttributeError):
            self._port.close()
        if self._thread.ident is not None:
            self._thread.join()
