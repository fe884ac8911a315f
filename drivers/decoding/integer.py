"""Binary integers with a decimal scale.

::

    at      +0 +1 +2 +3
            00 18 63 00       little-endian → 6494208        00 63 18 00 big-endian

The size is integer × 10^exponent, with the exponent in the message or a fixed number of places,
or integer × a scale that need not be a power of ten. Its digits show the step of the scale: 25400
with three places is ``25.400``.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from drivers.decoding.binary import ALONE, Bit, Span, Surroundings, long_enough
from drivers.decoding.digits import placed
from drivers.decoding.message import Decode, Message, refuse


@dataclass(frozen=True, slots=True)
class IntegerDecoding:
    """A profile's ``[decode]`` of kind ``integer``."""

    number: Span
    length: int
    """Bytes a message must have for every field to be in it."""
    places: int = 0
    """Digits behind the point, where neither a scale nor an exponent says it."""
    scale: Decimal | None = None
    exponent: Span | None = None
    exponent_range: tuple[int, int] = (-18, 18)
    negative: Bit | None = None
    """Sign and magnitude: the bit is not part of the number's value."""
    not_known: tuple[tuple[int, str], ...] = ()
    """Integers that stand for no value → what they say, for a person."""
    not_known_bit: Bit | None = None
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
        if self.not_known_bit is not None and self.not_known_bit.on(raw):
            refuse("not-known", self.not_known_says, raw)
        value = self.number.integer(raw)
        for special, says in self.not_known:
            if value == special:
                refuse("not-known", says, raw)
        negative, value = self._signed(raw, value)
        unit, flags, channel = self.surroundings.read(raw)
        return self._digits(raw, negative, value), unit, flags, channel

    def _signed(self, raw: bytes, value: int) -> tuple[bool, int]:
        if self.negative is None:
            return value < 0, abs(value)
        sign, number = self.negative, self.number
        byte = sign.at - number.at
        if 0 <= byte < number.count:
            weight = byte if number.order == "little" else number.count - 1 - byte
            value &= ~(1 << (8 * weight + sign.bit))
        return sign.on(raw), value

    def _digits(self, raw: bytes, negative: bool, value: int) -> str:
        if self.scale is not None:
            scaled = format(value * self.scale, "f")
            return "-" + scaled if negative else scaled
        if self.exponent is None:
            return placed(negative, str(value), self.places)
        exponent = self.exponent.integer(raw)
        low, high = self.exponent_range
        if not low <= exponent <= high:
            refuse("exponent", f"10^{exponent} is outside of the profile's range", raw)
        return placed(negative, str(value), -exponent)
