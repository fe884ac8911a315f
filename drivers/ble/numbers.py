"""Numbers of the Bluetooth SIG that are used here, and the measurement characteristics of its
Industrial Measurement Device Service (0x185A).

Source: the SIG's public assigned numbers and characteristic definitions. Of that service only these
seven characteristics are read: its status, control, history and cycle data are not.
"""

from __future__ import annotations

from typing import Final

from drivers.decoding.gatt import GattDecoding

_BASE = "-0000-1000-8000-00805f9b34fb"


def full(number: int) -> str:
    """The UUID of a 16-bit number, as bleak writes it."""
    return f"{number:08x}{_BASE}"


PRESENTATION_FORMAT: Final = full(0x2904)
BATTERY_LEVEL: Final = full(0x2A19)
MEASUREMENT_SERVICE: Final = full(0x185A)

_UINT32, _SINT32, _SINT16 = 0x08, 0x10, 0x0E
_NEVER = 0x7FFFFFFF
MEASUREMENTS: Final = {
    full(0x2C06): GattDecoding(
        _SINT32, -3, 0x2713, _NEVER
    ),  # acceleration, m/s² (unit from memory)
    full(0x2C07): GattDecoding(_SINT32, -3, 0x2723, _NEVER),  # force
    full(0x2C08): GattDecoding(_SINT32, -7, 0x2701, _NEVER),  # linear position
    full(0x2C09): GattDecoding(_SINT32, 0, 0x27A8, _NEVER),  # rotational speed
    full(0x2C0A): GattDecoding(_UINT32, -7, 0x2701, 0xFFFFFFFF),  # length
    full(0x2C0B): GattDecoding(_SINT32, -2, 0x2741, _NEVER),  # torque
    full(0x2A6E): GattDecoding(_SINT16, -2, 0x272F, -0x8000),  # temperature
}
"""Characteristic → how its values are read."""
