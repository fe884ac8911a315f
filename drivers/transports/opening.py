"""Opening a port with pyserial, for itself alone, and wrapping it in the transport that fits."""

from __future__ import annotations

import asyncio
import contextlib
import os
import threading
from collections.abc import Awaitable, Callable
from concurrent.futures import Executor
from typing import Any

from capture.errors import TransportError
from drivers.transports.reason import cannot_open
from drivers.transports.settings import PortSettings, is_com, plain_com
from drivers.transports.transport import Transport

Open = Callable[[PortSettings, str, Executor], Awaitable[Transport]]
"""``open_port``, or what a test puts in its place."""


async def open_port(settings: PortSettings, device: str, executor: Executor) -> Transport:
    """The open port ``device``, with ``settings``; raises ``TransportError`` with the reason.

    Opening may block for seconds (a network, a radio), so it happens in ``executor``.
    """
    loop = asyncio.get_running_loop()
    abandoned = threading.Event()
    opening = loop.run_in_executor(executor, _open_unless, abandoned, settings, device)
    try:
        port = await asyncio.shield(opening)
    except asyncio.CancelledError:
        # the thread cannot be stopped: what it opens after all is closed again, there or here
        abandoned.set()
        opening.add_done_callback(_close_late)
        raise
    return wrap(port, device, loop, executor)


def _open_unless(abandoned: threading.Event, settings: PortSettings, device: str) -> Any:
    port = open_serial(settings, device)
    if abandoned.is_set():
        port.close()
        raise TransportError(f"{device} is no longer wanted", port=device)
    return port


def wrap(port: Any, device: str, loop: asyncio.AbstractEventLoop, executor: Executor) -> Transport:
    """The transport for an open pyserial ``port``: by the event loop's selector where both the
    loop and the port can, else by a reader thread."""
    from drivers.transports.selected import SelectedTransport
    from drivers.transports.threaded import ThreadedTransport

    fd = _selectable(port, loop)
    if fd is not None:
        return SelectedTransport(port, fd, device, loop, executor)
    return ThreadedTransport(port, device, loop, executor)


def open_serial(settings: PortSettings, device: str) -> Any:
    """An open pyserial port. Blocks."""
    import serial

    name = plain_com(device) if is_com(device) else device
    parity = {"none": serial.PARITY_NONE, "even": serial.PARITY_EVEN, "odd": serial.PARITY_ODD}
    try:
        port = serial.serial_for_url(
            name,
            do_not_open=True,
            baudrate=settings.baud,
            bytesize=settings.data_bits,
            parity=parity[settings.parity],
            stopbits=settings.stop_bits,
            timeout=0.5,
        )
        port.dtr, port.rts = settings.dtr, settings.rts
        if not settings.is_url:
            port.exclusive = True if os.name == "posix" else None
        _keep_what_came(port)
        port.open()
    except (OSError, ValueError) as error:
        raise cannot_open(device, error) from error
    try:
        _shut_others_out(port)
    except OSError as error:
        port.close()
        raise cannot_open(device, error) from error
    return port


def _keep_what_came(port: Any) -> None:
    """Stops pyserial from emptying the input buffer when it opens the port: a press that came
    between two of its steps would be thrown away unseen."""
    for name in ("_reset_input_buffer", "reset_input_buffer"):
        if hasattr(port, name):
            setattr(port, name, lambda: None)


def _shut_others_out(port: Any) -> None:
    """Keeps programs out that do not ask for the lock pyserial sets: two readers of one port would
    each get half of the bytes."""
    fd = _own_fd(port)
    if fd is not None:
        import fcntl
        import termios

        with contextlib.suppress(termios.error):
            fcntl.ioctl(fd, termios.TIOCEXCL)


def _own_fd(port: Any) -> int | None:
    """The descriptor of a terminal device; None for URLs and on Windows."""
    fd = getattr(port, "fd", None)
    return fd if os.name == "posix" and isinstance(fd, int) else None


def _selectable(port: Any, loop: asyncio.AbstractEventLoop) -> int | None:
    """The port's descriptor, where this loop can wait for it."""
    if os.name != "posix":
        return None
    try:
        fd: int = port.fileno()
        loop.add_reader(fd, _nothing)
        loop.remove_reader(fd)
    except (AttributeError, NotImplementedError, OSError, ValueError):
        return None
    return fd


def _nothing() -> None:
    """Stands in for a reader while it is found out whether the loop takes one."""


def _close_late(opening: asyncio.Future[Any]) -> None:
    if not opening.cancelled() and opening.exception() is None:
        opening.result().close()
