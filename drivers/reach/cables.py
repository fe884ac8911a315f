"""The serial ports of this computer, and whether each could be opened now."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from capture.errors import TransportError
from drivers.reach.kinds import of_cable
from drivers.transports.holders import holders
from drivers.transports.ports import PortInfo
from drivers.transports.reason import busy, no_permission

BY_ID = "/dev/serial/by-id"


class Cable(NamedTuple):
    """One serial port."""

    info: PortInfo
    stable: tuple[str, ...]
    """Names that stay when cables are plugged in another order."""
    seems: str
    trouble: TransportError | None
    """Why it could not be opened now, as far as that shows without opening it."""

    @property
    def best(self) -> str:
        """The name that stays, where there is one."""
        return self.stable[0] if self.stable else self.info.device


def cables(ports: Sequence[PortInfo], by_id: str = BY_ID) -> list[Cable]:
    """What is known of ``ports``, in the order of their names. Opens none: opening moves lines
    that some gauges listen to."""
    named = _stable(by_id)
    return [
        Cable(
            port,
            tuple(named.get(os.path.realpath(port.device), ())),
            of_cable(port),
            _trouble(port.device),
        )
        for port in sorted(ports, key=lambda port: _natural(port.device))
    ]


def _stable(by_id: str) -> dict[str, list[str]]:
    """Device → its names under ``by_id``."""
    found: dict[str, list[str]] = {}
    try:
        links = sorted(Path(by_id).iterdir())
    except OSError:  # another system, or nothing is plugged in
        return found
    for link in links:
        found.setdefault(os.path.realpath(link), []).append(str(link))
    return found


def _trouble(device: str) -> TransportError | None:
    if sys.platform == "win32" or not os.path.exists(device):
        return None
    if not os.access(device, os.R_OK | os.W_OK):
        return no_permission(device)
    return busy(device) if holders(device) else None


def _natural(name: str) -> tuple[str, int]:
    """``ttyUSB10`` after ``ttyUSB9``."""
    stem = name.rstrip("0123456789")
    return stem, int(name[len(stem) :] or 0)
