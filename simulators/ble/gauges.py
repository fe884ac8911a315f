"""Gauges with a radio, invented here. Only numbers assigned by the Bluetooth SIG are not ours."""

from __future__ import annotations

import struct

from simulators.ble.device import Characteristic, Descriptor, Device, Service, short

VALUE_SERVICE = "3a1f0001-7c52-4be8-8a10-52d8f1a90c11"
VALUE = "3a1f0002-7c52-4be8-8a10-52d8f1a90c11"
LINE_SERVICE = "3a1f0010-7c52-4be8-8a10-52d8f1a90c11"
LINE_OUT = "3a1f0011-7c52-4be8-8a10-52d8f1a90c11"
LINE_IN = "3a1f0012-7c52-4be8-8a10-52d8f1a90c11"
LENGTH = short(0x2C0A)
TORQUE = short(0x2C0B)
BATTERY = short(0x2A19)
METRE, NEWTON_METRE = 0x2701, 0x2741
_SINT32 = 0x10


def describing(
    address: str = "C2:00:00:00:00:01",
    name: str = "Invented gauge",
    *,
    unit: int = METRE,
    exponent: int = -6,
    battery: int | None = 80,
) -> Device:
    """A gauge whose one value says itself in which unit and to which power of ten it is."""
    told = Descriptor(short(0x2904), struct.pack("<BbHBH", _SINT32, exponent, unit, 1, 0))
    value = Characteristic(VALUE, ("read", "notify"), bytes(4), [told])
    return Device(address, name, [Service(VALUE_SERVICE, [value]), *_battery(battery)])


def industrial(address: str = "C2:00:00:00:00:02", name: str = "Invented wrench") -> Device:
    """A device with two of the SIG's industrial measurement characteristics."""
    length = Characteristic(LENGTH, ("notify",))
    torque = Characteristic(TORQUE, ("notify",))
    return Device(address, name, [Service(short(0x185A), [length, torque]), *_battery(None)])


def line(address: str = "C2:00:00:00:00:03", name: str = "Invented line") -> Device:
    """A gauge that sends lines of text, and is told what to do by such lines."""
    out = Characteristic(LINE_OUT, ("notify",))
    inward = Characteristic(LINE_IN, ("write",))
    return Device(address, name, [Service(LINE_SERVICE, [out, inward]), *_battery(15)])


def integer(value: int) -> bytes:
    """What a press sends where the value is a signed integer of 32 bits."""
    return struct.pack("<i", value)


def _battery(level: int | None) -> list[Service]:
    if level is None:
        return []
    return [Service(short(0x180F), [Characteristic(BATTERY, ("read",), bytes([level]))])]
