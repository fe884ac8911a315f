"""A port read by a thread of its own: on Windows, and for URLs that have no descriptor."""

from __future__ import annotations

import asyncio
import contextlib
import queue
import threading
from collections import deque
from concurrent.futures import Executor
from typing import Any

from drivers.transports.reason import lost as gone
from drivers.transports.transport import Lost, Received

CHUNK = 65536
"""Bytes taken at once."""
_LAST = 16
"""Chunks still taken from a port that is being closed, should it never stop sending."""
_END = 1.0
"""Seconds the reader thread has for that, more than a read lasts, before the port is closed."""
_TRIPS = (OSError, TypeError, ValueError, AttributeError)
"""What pyserial raises on a lost port: it trips over its own closed handles in several ways."""


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
        self._to_send: deque[bytes] = deque()
        self._sending = threading.Lock()
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
        self._to_send.append(data)
        self._loop.run_in_executor(self._executor, self._write)

    async def close(self) -> None:
        if self._closing:
            return
        self._closing = True
        self._lost = None
        self._may_read.set()
        await asyncio.shield(self._loop.run_in_executor(self._executor, self._close))

    def _run(self) -> None:
        error: Exception | None = None
        while error is None:
            self._may_read.wait()
            if self._closing:
                break
            error = self._read()
        self._read_last()
        if error is not None:
            self._post(self._fail, error)

    def _read(self) -> Exception | None:
        """Waits for bytes, takes what is there, and gives the error that ends the reading."""
        chunk = b""
        try:
            chunk = self._port.read(1)
            if chunk:
                chunk += _there(self._port)
        except _TRIPS as error:
            return error
        finally:
            # a port that is lost between two reads does not take the first one's bytes along
            if chunk:
                self._pass_on(chunk)
        return None

    def _read_last(self) -> None:
        """Takes what has arrived and was not read yet: after this it would be lost."""
        with contextlib.suppress(*_TRIPS):
            for _ in range(_LAST):
                if not self._port.in_waiting:
                    break
                # may be empty once: where a read that had ended already was cancelled
                chunk = _there(self._port)
                if chunk:
                    self._pass_on(chunk)

    def _pass_on(self, chunk: bytes) -> None:
        self._taken = False
        self._may_read.clear()
        if self._closing:  # nobody would wake the thread any more
            self._may_read.set()
        self._post(self._hand_over, chunk)

    def _post(self, what: Any, argument: object) -> None:
        with contextlib.suppress(RuntimeError):  # the loop has ended
            self._loop.call_soon_threadsafe(what, argument)

    def _hand_over(self, chunk: bytes) -> None:
        # while closing too: ``close`` returns after the thread has ended, and what the thread
        # posted comes before that in the loop's queue
        assert self._received is not None
        self._received(chunk)
        self._taken = True
        if not self._paused:
            self._may_read.set()

    def _fail(self, error: Exception) -> None:
        lost, self._lost = self._lost, None
        if lost is not None:
            lost(gone(self.device, error))

    def _write(self) -> None:
        """Sends what is next; two writes run on two threads, and must not overtake each other."""
        with self._sending:
            try:
                self._port.write(self._to_send.popleft())
            except _TRIPS as error:
                self._post(self._fail, error)

    def _close(self) -> None:
        _cancel_read(self._port)
        if self._thread.ident is not None:
            self._thread.join(_END)
        with contextlib.suppress(OSError, TypeError, AttributeError):
            self._port.close()
        if self._thread.ident is not None:
            self._thread.join()


def _cancel_read(port: Any) -> None:
    """Ends a read that is waiting, where the port can; elsewhere it ends by its timeout."""
    cancel = getattr(port, "cancel_read", None)
    arrived = _queue(port)
    if arrived is not None:
        arrived.put(None)
    elif cancel is not None:
        with contextlib.suppress(OSError, TypeError, AttributeError):
            cancel()


def _queue(port: Any) -> queue.Queue[bytes | None] | None:
    """What rfc2217:// fills from a thread of its own."""
    arrived = getattr(port, "_read_buffer", None)
    return arrived if isinstance(arrived, queue.Queue) else None


def _there(port: Any) -> bytes:
    """What has arrived at ``port``, without waiting."""
    arrived = _queue(port)
    if arrived is None:
        waiting = port.in_waiting
        data: bytes = port.read(min(waiting, CHUNK)) if waiting else b""
        return data
    # not by ``read``, which raises once the connection has ended, whatever is in there still
    taken = bytearray()
    with contextlib.suppress(queue.Empty):
        while len(taken) < CHUNK:
            taken += arrived.get_nowait() or b""  # None marks the connection's end
    return bytes(taken)
