"""Numbers of Bluetooth characteristics that describe themselves.

A Presentation Format descriptor (0x2904) is seven bytes, least significant first::

    10        FE         41 27     01           00 00
    format    exponent   unit      namespace    description

The value is integer × 10^exponent in the unit; floats ignore the exponent. Numbers of formats and
units: Bluetooth SIG, Assigned Numbers.
"""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from drivers.decoding.digits import placed
from drivers.decoding.message import Decode, Message, refuse

LENGTH: Final = 7
"""Bytes of the descriptor."""
_LARGEST_EXPONENT = 18
_FLOAT32, _FLOAT64, _SFLOAT, _FLOAT = 0x14, 0x15, 0x16, 0x17
_UNSIGNED = {0x04: 8, 0x05: 12, 0x06: 16, 0x07: 24, 0x08: 32, 0x09: 48, 0x0A: 64, 0x0B: 128}
_SIGNED = {0x0C: 8, 0x0D: 12, 0x0E: 16, 0x0F: 24, 0x10: 32, 0x11: 48, 0x12: 64, 0x13: 128}
_FLOATS = {_FLOAT32: 4, _FLOAT64: 8, _SFLOAT: 2, _FLOAT: 4}
UNITS: Final = {
    0x2701: "m", 0x27A2: "in", 0x27A3: "ft", 0x2723: "N", 0x2741: "N·m",
    0x272F: "°C", 0x27AC: "°F", 0x2720: "rad", 0x2763: "°", 0x27A8: "rpm",
}  # fmt: skip
"""Unit number → our name of the unit."""


@dataclass(frozen=True, slots=True)
class GattDecoding:
    """How one characteristic's values are read."""

    format: int
    exponent: int
    unit: int
    not_known: int | None = None
    """The integer that stands for no value; None where none is agreed."""

    @classmethod
    def described(cls, descriptor: bytes) -> GattDecoding:
        """What a 0x2904 descriptor says; raises ``ValueError`` where it says no number."""
        if len(descriptor) != LENGTH:
            raise ValueError(f"its Presentation Format has {len(descriptor)} bytes, not {LENGTH}")
        code, exponent, unit, _, _ = struct.unpack("<BbHBH", descriptor)
        decoding = cls(code, exponent, unit)
        if decoding.size is None:
            raise ValueError(f"its Presentation Format {code:#04x} is no number")
        if code not in _FLOATS and abs(exponent) > _LARGEST_EXPONENT:
            raise ValueError(f"its Presentation Format says 10^{exponent}")
        return decoding

    @property
    def size(self) -> int | None:
        """Bytes of a value; None where the format is no number."""
        bits = _UNSIGNED.get(self.format) or _SIGNED.get(self.format)
        return -(-bits // 8) if bits else _FLOATS.get(self.format)

    @property
    def is_integer(self) -> bool:
        """Whether the value is an integer of 10^exponent; else its exponent says nothing."""
        return self.format not in _FLOATS

    @property
    def unit_name(self) -> str | None:
        """Our name of the unit; None where it is none a size, torque or angle is told in."""
        return UNITS.get(self.unit)

    @property
    def has_channel(self) -> bool:
        """A characteristic belongs to one instrument."""
        return False

    def decoder(self, head: int, tail: int) -> Decode:  # a value is the whole message
        return self._decode

    def _decode(self, raw: bytes) -> Message:
        if len(raw) != self.size:
            refuse("layout", f"{len(raw)} bytes, and its format has {self.size}", raw)
        unit = self.unit_name or f"unit {self.unit:#06x}"
        return self._digits(raw), unit, (), None

    def _digits(self, raw: bytes) -> str:
        if self.format in (_FLOAT32, _FLOAT64):
            return _binary_float(raw)
        if self.format in (_SFLOAT, _FLOAT):
            return _medical_float(raw)
        value = self._integer(raw)
        if value == self.not_known:
            refuse("not-known", "the device says that it has no value", raw)
        return placed(value < 0, str(abs(value)), -self.exponent)

    def _integer(self, raw: bytes) -> int:
        bits = _UNSIGNED.get(self.format)
        value = int.from_bytes(raw, "little")
        if bits is not None:
            return value & ((1 << bits) - 1)
        return _signed(value, _SIGNED[self.format])


def _signed(value: int, bits: int) -> int:
    value &= (1 << bits) - 1
    return value - (1 << bits) if value >> (bits - 1) else value


def _binary_float(raw: bytes) -> str:
    """The shortest decimal that is this float again."""
    single = len(raw) == 4
    value: float = struct.unpack("<f" if single else "<d", raw)[0]
    if not math.isfinite(value):
        refuse("not-known", "the device says that it has no value", raw)
    if not single:
        return _plain(Decimal(repr(value)))
    for digits in range(6, 10):  # nine always suffice for 32 bits
        text = f"{value:.{digits}g}"
        if struct.pack("<f", float(text)) == raw:
            break
    return _plain(Decimal(text))


def _medical_float(raw: bytes) -> str:
    """IEEE 11073 SFLOAT (4 + 12 bits) and FLOAT (8 + 24 bits), trailing zeros kept."""
    bits = 12 if len(raw) == 2 else 24
    word = int.from_bytes(raw, "little")
    mantissa = _signed(word, bits)
    exponent = _signed(word >> bits, 4 if bits == 12 else 8)
    # reserved in the standard: +infinity, not a number, not at this resolution, reserved,
    # -infinity
    top = (1 << (bits - 1)) - 1
    if exponent == 0 and (mantissa >= top - 1 or mantissa <= -top + 1):
        refuse("not-known", "the device says that it has no value", raw)
    if abs(exponent) > _LARGEST_EXPONENT:
        refuse("exponent", f"10^{exponent} is no size", raw)
    return placed(mantissa < 0, str(abs(mantissa)), -exponent)


def _plain(value: Decimal) -> str:
    if value == 0:
        return "0"
    if not -_LARGEST_EXPONENT - 17 <= value.adjusted() <= _LARGEST_EXPONENT + 17:
        refuse("exponent", f"{value} is no size", b"")
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text
