"""A port read when the event loop's selector says that bytes are there: no thread, one call from
the kernel to the framer."""

from __future__ import annotations

import asyncio
import contextlib
import os
from concurrent.futures import Executor
from typing import Any

from capture.errors import TransportError
from drivers.transports.reason import lost as gone
from drivers.transports.transport import Lost, Received

CHUNK = 65536
"""Bytes asked for at once."""
_LAST = 16
"""Chunks still taken from a port that is being closed, should it never stop sending."""


class SelectedTransport:
    """A terminal device or socket on a selector loop. Takes ``port`` over, open, non-blocking."""

    def __init__(
        self,
        port: Any,
        fd: int,
        device: str,
        loop: asyncio.AbstractEventLoop,
        executor: Executor,
    ) -> None:
        self.device = device
        self._port = port
        self._fd = fd
        self._loop = loop
        self._executor = executor
        self._received: Received | None = None
        self._lost: Lost | None = None
        self._unsent = b""
        self._closed = False
        _at_least_one_byte(fd)

    def start(self, received: Received, lost: Lost) -> None:
        self._received, self._lost = received, lost
        self._loop.add_reader(self._fd, self._read)

    def pause(self) -> None:
        if not self._closed:
            self._loop.remove_reader(self._fd)

    def resume(self) -> None:
        if not self._closed:
            self._loop.add_reader(self._fd, self._read)

    def write(self, data: bytes) -> None:
        if self._closed:
            raise gone(self.device, None)
        if self._unsent:
            self._unsent += data
            return
        self._unsent = data
        self._write()
        if self._unsent and not self._closed:
            self._loop.add_writer(self._fd, self._write)

    async def close(self) -> None:
        if self._closed:
            return
        self._stop()
        self._read_last()
        # closing a socket waits for a while inside pyserial
        await asyncio.shield(self._loop.run_in_executor(self._executor, self._close))

    def _read(self) -> None:
        try:
            chunk = os.read(self._fd, CHUNK)
        except (BlockingIOError, InterruptedError):
            return
        except OSError as error:
            self._fail(error)
            return
        if chunk:
            assert self._received is not None
            self._received(chunk)
        else:
            self._fail(None)

    def _read_last(self) -> None:
        """Takes what has arrived and the loop has not come to: closing would throw it away."""
        if self._received is None:
            return
        with contextlib.suppress(OSError):
            for _ in range(_LAST):
                chunk = os.read(self._fd, CHUNK)
                if not chunk:
                    break
                self._received(chunk)

    def _write(self) -> None:
        try:
            sent = os.write(self._fd, self._unsent)
        except (BlockingIOError, InterruptedError):
            return
        except OSError as error:
            self._fail(error)
            return
        self._unsent = self._unsent[sent:]
        if not self._unsent:
            self._loop.remove_writer(self._fd)

    def _fail(self, error: OSError | None) -> None:
        """The port is lost. The descriptor stays open, unwatched, until ``close``."""
        self._loop.remove_reader(self._fd)
        self._loop.remove_writer(self._fd)
        lost, self._lost = self._lost, None
        if lost is not None:
            lost(gone(self.device, error))

    def _stop(self) -> None:
        self._closed = True
        self._loop.remove_reader(self._fd)
        self._loop.remove_writer(self._fd)

    def _close(self) -> None:
        _let_others_in(self._port)
        with contextlib.suppress(OSError, TransportError):
            self._port.close()


def _at_least_one_byte(fd: int) -> None:
    """Makes a terminal's empty read an error (EAGAIN), so that no bytes can only mean hang-up.

    pyserial sets VMIN = 0, with which a read answers no bytes for both (termios(3)).
    """
    import termios

    with contextlib.suppress(termios.error):
        attributes = termios.tcgetattr(fd)
        attributes[6][termios.VMIN] = 1
        attributes[6][termios.VTIME] = 0
        termios.tcsetattr(fd, termios.TCSANOW, attributes)


def _let_others_in(port: Any) -> None:
    """Takes the exclusive mode back, which outlives us while anyone else has the device open."""
    fd = getattr(port, "fd", None)
    if isinstance(fd, int):
        import fcntl
        import termios

        with contextlib.suppress(OSError):
            fcntl.ioctl(fd, termios.TIOCNXCL)
