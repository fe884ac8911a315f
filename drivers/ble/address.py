"""``ble://C0:FF:EE:00:00:01`` or ``ble://name``: which device is meant."""

from __future__ import annotations

import re
from typing import NamedTuple
from urllib.parse import unquote

SCHEME = "ble://"
_ADDRESS = re.compile(r"[0-9A-F]{2}(?::[0-9A-F]{2}){5}")
# macOS gives no addresses, but an identifier of its own for each device
_IDENTIFIER = re.compile(r"[0-9A-F]{8}(?:-[0-9A-F]{4}){3}-[0-9A-F]{12}")


class Target(NamedTuple):
    """The device that is looked for."""

    text: str
    """Its address, in capital letters, or its name as it sends it."""
    is_address: bool

    def is_meant(self, address: str, name: str | None) -> bool:
        """Whether a device heard with this address and name is the one."""
        return address.upper() == self.text if self.is_address else name == self.text


def is_ble(device: str) -> bool:
    """Whether a port is a radio's."""
    return device.startswith(SCHEME)


def target(device: str) -> Target:
    """What a ``ble://`` port names; raises ``ValueError`` where it names nothing."""
    text = unquote(device.removeprefix(SCHEME))
    if not is_ble(device) or not text.strip():
        raise ValueError(f"{device!r} names no Bluetooth device; write ble://ADDRESS or ble://name")
    capital = text.upper()
    if _ADDRESS.fullmatch(capital) or _IDENTIFIER.fullmatch(capital):
        return Target(capital, True)
    return Target(text, False)
