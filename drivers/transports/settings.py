"""How a port is to be opened."""

from __future__ import annotations

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

    @property
    def is_url(self) -> bool:
        return "://" in self.device


def is_com(device: str) -> bool:
    """Whether ``device`` is a Windows port name: ``COM12`` or ``\\\\.\\COM12``."""
    return plain_com(device).upper().startswith("COM") and plain_com(device)[3:].isdecimal()


def plain_com(device: str) -> str:
    """``COM12`` for ``\\\\.\\COM12``; pyserial puts the prefix back where Windows needs it."""
    return device[4:] if device.startswith("\\\\.\\") else device
