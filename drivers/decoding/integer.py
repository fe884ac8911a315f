"""Binary integers with a decimal scale.

::

    at      +0 +1 +2 +3
            00 18 63 00       little-endian → 6494208        00 63 18 00 big-endian

The size is integer × 10^exponent, with the exponent in the message or a fixed number of places,
or integer × a scale that need not be a power of ten. Its digits show the step of the scale, or the
stated resolution: 25400 with three places is ``25.400``.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from drivers.decoding.binary import ALONE, Bit, SignByte, Span, Surroundings, long_enough
from drivers.decoding.message import Decode, Message, refuse
from drivers.decoding.worth import Worth, Worths, scaled


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
    worths: Worths | None = None
    """Takes the place of ``places`` and ``scale``."""
    places_at: int | None = None
    places_max: int = 0
    sign: SignByte | None = None

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
        digits = self._worth(unit).text(negative, str(value), self._sent(raw))
        return digits, unit, flags, channel

    def _signed(self, raw: bytes, value: int) -> tuple[bool, int]:
        if self.sign is not None:
            return self.sign.negative(raw), abs(value)
        if self.negative is None:
            return value < 0, abs(value)
        sign, number = self.negative, self.number
        byte = sign.at - number.at
        if 0 <= byte < number.count:
            weight = byte if number.order == "little" else number.count - 1 - byte
            value &= ~(1 << (8 * weight + sign.bit))
        return sign.on(raw), abs(value)

    def _worth(self, unit: str | None) -> Worth:
        if self.worths is not None:
            return self.worths.of(unit)
        return Worth(self.places) if self.scale is None else scaled(self.scale)

    def _sent(self, raw: bytes) -> int | None:
        """Digits behind the point, where the message says it."""
        if self.places_at is not None:
            return sent_places(raw, self.places_at, self.places_max)
        if self.exponent is None:
            return None
        return -sent_exponent(raw, self.exponent, self.exponent_range)


def sent_places(raw: bytes, at: int, most: int) -> int:
    """Digits behind the point as byte ``at`` says; raises ``DecodingError`` ``exponent``."""
    places = raw[at]
    if places > most:
        refuse("exponent", f"{places} digits behind the point are too many", raw)
    return places


def sent_exponent(raw: bytes, span: Span, bounds: tuple[int, int]) -> int:
    """The power of ten in the message; raises ``DecodingError`` ``exponent``."""
    exponent = span.integer(raw)
    if not bounds[0] <= exponent <= bounds[1]:
        refuse("exponent", f"10^{exponent} is outside of the profile's range", raw)
    return exponent
