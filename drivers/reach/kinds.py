"""What a port, a service or a characteristic seems to be, in plain words."""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import NamedTuple

from drivers.ble.choose import readable
from drivers.ble.numbers import MEASUREMENT_SERVICE, full
from drivers.decoding.gatt import GattDecoding
from drivers.reach.ears import Part
from drivers.transports.ports import PortInfo
from drivers.transports.settings import is_com

_BATTERY, _KEYBOARD = full(0x180F), full(0x1812)
_ABOUT = {full(0x1800), full(0x1801), full(0x180A)}
"""Services that only say what a device is called and how it is made."""
_OF_THE_SIG = "-0000-1000-8000-00805f9b34fb"
_MEASURES = {
    "m": "a length", "in": "a length", "ft": "a length", "N": "a force", "N·m": "a torque",
    "°C": "a temperature", "°F": "a temperature", "rad": "an angle", "°": "an angle",
    "rpm": "a rotational speed",
}  # fmt: skip


class Service(NamedTuple):
    """One service of a device."""

    uuid: str
    words: str
    """What it seems to be; empty where it has nothing to do with readings."""


def of_cable(port: PortInfo) -> str:
    """What a serial port seems to be."""
    name = os.path.basename(port.device).lower()
    if "bluetooth" in name or name.startswith("rfcomm"):
        return "a serial port over Bluetooth of the older kind (not Low Energy)"
    if port.vendor_id is not None:
        if name.startswith("ttyacm") or "usbmodem" in name:
            return "a device with a USB plug of its own that is a serial port"
        return "a USB serial cable, or a receiver"
    if name.startswith("ttys") or is_com(port.device):
        return "a serial socket of this computer; it is there whether or not anything is plugged in"
    return "a serial port"


def advertised(services: Sequence[str]) -> list[Service]:
    """What a device tells of by itself, without being asked."""
    return [Service(uuid, _advertised(uuid)) for uuid in services]


def offered(parts: Sequence[Part]) -> list[Service]:
    """What the services of a device seem to be, by what they offer."""
    services = dict.fromkeys(part.service for part in parts)
    return [
        Service(uuid, _offered(uuid, [part for part in parts if part.service == uuid]))
        for uuid in services
    ]


def measuring(parts: Sequence[Part]) -> list[tuple[Part, GattDecoding]]:
    """The characteristics whose values can be read without a profile, and how."""
    known = readable([part.one for part in parts])
    return [
        (part, known[part.one.handle]) for part in parts if part.sends and part.one.handle in known
    ]


def unreadable(parts: Sequence[Part]) -> list[Part]:
    """The characteristics that send what only a profile can read."""
    known = readable([part.one for part in parts])
    return [part for part in parts if part.sends and part.one.handle not in known]


def _advertised(uuid: str) -> str:
    if uuid == MEASUREMENT_SERVICE:
        return "industrial measurement service: describes its values itself"
    if uuid == _BATTERY:
        return "battery"
    if uuid == _KEYBOARD:
        return _typing()
    return "" if uuid.endswith(_OF_THE_SIG) else "a service of its own, not looked into"


def _offered(uuid: str, parts: list[Part]) -> str:
    if uuid in _ABOUT:
        return ""
    if uuid == _BATTERY:
        return "battery"
    if uuid == _KEYBOARD:
        return _typing()
    values = [decoding for _, decoding in measuring(parts)]
    if values:
        sizes = " and ".join(dict.fromkeys(_value(value) for value in values))
        if uuid == MEASUREMENT_SERVICE:
            return f"industrial measurement service: describes its values itself ({sizes})"
        return f"describes its values itself ({sizes})"
    if not unreadable(parts):
        return ""
    if any(part.one.writes for part in parts):
        return "text or bytes over a UART-like service: needs a profile"
    return "sends messages of its own: needs a profile"


def _value(decoding: GattDecoding) -> str:
    unit = decoding.unit_name
    return f"{_MEASURES.get(unit, 'a value')} in {unit}" if unit else "a value"


def _typing() -> str:
    return "types like a keyboard: pair it with this computer, and it is listed as a keyboard"
