"""Binary floats (IEEE 754) of 32 or 64 bits, shown with the digits of a stated resolution.

::

    at      +0 +1 +2 +3
            33 33 CB 41       little-endian → 25.399999618…, resolution 0.001 → 25.400
"""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass
from fractions import Fraction

from drivers.decoding.binary import ALONE, Bit, SignByte, Span, Surroundings, long_enough
from drivers.decoding.message import Decode, Message, refuse
from drivers.decoding.worth import Worths

_LARGEST = 10**15


@dataclass(frozen=True, slots=True)
class FloatDecoding:
    """A profile's ``[decode]`` of kind ``float``."""

    number: Span
    """4 or 8 bytes."""
    length: int
    """Bytes a message must have for every field to be in it."""
    worths: Worths
    """Each with a resolution."""
    negative: Bit | None = None
    sign: SignByte | None = None
    not_known: Bit | None = None
    not_known_says: str = ""
    surroundings: Surroundings = ALONE

    @property
    def has_channel(self) -> bool:
        """Whether a message says which instrument it comes from."""
        return self.surroundings.channel is not None

    def decoder(self, head: int, tail: int) -> Decode:  # counts from byte 0
        return self._decode

    def _decode(self, raw: bytes) -> Message:
        long_enough(raw, self.length)
        if self.not_known is not None and self.not_known.on(raw):
            refuse("not-known", self.not_known_says, raw)
        unit, flags, channel = self.surroundings.read(raw)
        value = self._value(raw)
        if not math.isfinite(value):
            refuse("not-known", "the instrument has no value to give", raw)
        if abs(value) >= _LARGEST:
            refuse("exponent", f"{value:g} is out of all bounds", raw)
        worth = self.worths.of(unit)
        size = Fraction(value) * (1 if worth.factor is None else worth.factor)
        if worth.places:
            size /= 10**worth.places
        if self._turned(raw):
            size = -size
        return worth.rounded(size), unit, flags, channel

    def _value(self, raw: bytes) -> float:
        form = ("<" if self.number.order == "little" else ">") + "fd"[self.number.count == 8]
        value: float = struct.unpack_from(form, raw, self.number.at)[0]
        return value

    def _turned(self, raw: bytes) -> bool:
        if self.sign is not None:
            return self.sign.negative(raw)
        return self.negative is not None and self.negative.on(raw)
