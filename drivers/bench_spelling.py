"""One spelling for every way of writing a port, so that what is one port is seen to be one."""

from __future__ import annotations

from drivers.ble.address import SCHEME, is_ble, target
from drivers.transports.settings import plain_com


def spelled(device: str) -> str:
    """``COM12`` for ``com12`` and ``\\\\.\\COM12``; a Bluetooth address in capitals; others as
    they are."""
    if not is_ble(device):
        return plain_com(device)
    try:
        meant = target(device)
    except ValueError:  # it names nothing, and that is noted elsewhere
        return device
    return f"{SCHEME}{meant.text}" if meant.is_address else device
