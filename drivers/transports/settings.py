"""How a port is to be opened."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class PortSettings:
    """One port of the bench."""

    id: str
    """What bench.toml calls it; the device itself where it has no name of its own."""
    device: str
    """A device path, a COM name, or a ``socket://``, ``rfc2217://`` or ``ble://`` URL."""
    usb_serial: str | None = None
    """The USB serial number of the cable, by which it is found under another name."""
    baud: int = 9600
    data_bits: Literal[5, 6, 7, 8] = 8
    parity: Literal["none", "even", "odd"] = "none"
    stop_bits: float = 1
    """1, 1.5 or 2."""
    dtr: bool = True
    rts: bool = True
    notify: str | None = None
    """Of a radio: the UUID of the characteristic that sends, where there are several."""
    write: str | None = None
    """Of a radio: the UUID of the characteristic that requests are written to."""
    silence_seconds: float = 10.0
    """Of a radio: after how long without a word it is asked whether it is there."""
    keys: tuple[tuple[str, str], ...] = ()
    """Of an instrument that types: the keys that type something else on it than on a keyboard of
    the United States, each with its character."""

    @property
    def is_url(self) -> bool:
        return "://" in self.device


_COM = re.compile(r"(?:\\\\[.?]\\)?(COM[0-9]+)", re.IGNORECASE)


def is_com(device: str) -> bool:
    """Whether ``device`` is a Windows port name, in any spelling: ``COM12``, ``\\\\.\\COM12``."""
    return _COM.fullmatch(device.strip()) is not None


def plain_com(device: str) -> str:
    """``COM12`` for ``\\\\.\\COM12`` and ``com12``, which are one port; else ``device`` as it is.

    pyserial puts the prefix back where Windows needs it.
    """
    found = _COM.fullmatch(device.strip())
    return found[1].upper() if found else device
