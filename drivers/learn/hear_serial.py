"""Presses on a serial port, an Ethernet-serial server, or a serial port behind RFC 2217."""

from __future__ import annotations

import contextlib
import os
import time
from typing import Any

from capture.errors import TransportError
from drivers.learn.hear import SILENCE, Heard, Ready, nobody
from drivers.learn.line.setting import Setting
from drivers.learn.line.trial import marked
from drivers.transports import opening
from drivers.transports.reason import lost
from drivers.transports.settings import PortSettings

_LOOK = 0.05
"""Seconds a read waits."""
_RETRY = 0.3
_ERRORS = 0x1C
"""RFC 2217: parity error 4, framing error 8, break 16 of the line state."""
_MASK = b"\x0a"
"""RFC 2217: SET-LINESTATE-MASK, 10."""
_TRIPS = (OSError, TypeError, ValueError, AttributeError)
"""What pyserial raises on a lost port."""


class SerialEar:
    """A cable, near or behind a network."""

    def __init__(self, device: str, setting: Setting) -> None:
        self.tunable = not device.startswith("socket://")
        self._device = device
        self._setting = setting
        self._marks = False
        self._port = self._open()

    def tune(self, setting: Setting) -> None:
        """See ``Ear``. Opens the port anew: what an old speed left behind goes with it."""
        self.close()
        self._setting = setting
        self._port = self._open()

    def press(self, wait: float, ask: bytes = b"", ready: Ready = nobody) -> Heard:
        """See ``Ear``."""
        try:
            self._empty()
            ready()
            return self._heard(wait, ask)
        except _TRIPS as error:
            raise lost(self._device, error) from error

    def again(self, wait: float) -> None:
        """See ``Ear``."""
        self.close()
        deadline = time.monotonic() + wait
        while True:
            try:
                self._port = self._open()
            except TransportError:
                if time.monotonic() > deadline:
                    raise
                time.sleep(_RETRY)
            else:
                return

    def close(self) -> None:
        """See ``Ear``."""
        with contextlib.suppress(*_TRIPS):
            self._port.close()

    def _open(self) -> Any:
        baud, form = self._setting
        settings = PortSettings(
            id=self._device,
            device=self._device,
            baud=baud,
            data_bits=form.data_bits,
            parity=form.parity,
            stop_bits=form.stop_bits,
        )
        port = opening.open_serial(settings, self._device)
        if self._device.startswith("rfc2217://"):
            with contextlib.suppress(*_TRIPS):
                port.rfc2217_send_subnegotiation(_MASK, bytes([_ERRORS]))
        return port

    def _empty(self) -> None:
        port = self._port
        port.timeout = _LOOK
        # after that, for pyserial sets the whole terminal anew
        self._marks = _mark_errors(port)
        while port.read(4096):
            pass
        # pyserial keeps what the server tells of errors, and offers it nowhere else
        if hasattr(port, "_linestate"):
            port._linestate = 0

    def _heard(self, wait: float, ask: bytes) -> Heard:
        port = self._port
        if ask:
            port.write(ask)
        data = b""
        deadline = time.monotonic() + wait
        while time.monotonic() < deadline:
            chunk = port.read(4096)
            if chunk:
                data += chunk
                deadline = time.monotonic() + SILENCE
        if self._marks:
            raw, wrong = marked(data)
            return Heard(raw, wrong)
        told = getattr(port, "_linestate", 0) & _ERRORS
        return Heard(data, faults=True if told else None)


def _mark_errors(port: Any) -> bool:
    """Has the terminal mark bytes that come with an error; whether it does (POSIX alone)."""
    fd = getattr(port, "fd", None)
    if os.name != "posix" or not isinstance(fd, int):
        return False
    import termios

    try:
        attributes = termios.tcgetattr(fd)
        attributes[0] |= termios.INPCK | termios.PARMRK
        attributes[0] &= ~(termios.IGNPAR | termios.ISTRIP)
        termios.tcsetattr(fd, termios.TCSANOW, attributes)
        return bool(termios.tcgetattr(fd)[0] & termios.PARMRK)
    except (termios.error, OSError):
        return False
