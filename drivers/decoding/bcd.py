"""Packed decimal digits: two to a byte, the high half first.

::

    at      +0     +1     +2          order "big"         sign: a bit, or a half byte
            d6 d5  d4 d3  d2 d1       02 54 00 → 025400
                                      order "little" turns the bytes round: 00 54 02

With ``sign_nibble`` the last half byte of the number is its sign (C or F plus, D minus, as in
packed decimal of common practice) and no digit.
"""

from __future__ import annotations

from dataclasses import dataclass

from drivers.decoding.binary import ALONE, Bit, Span, Surroundings, long_enough
from drivers.decoding.digits import placed
from drivers.decoding.message import Decode, Message, refuse

_SIGNS = {"c": False, "f": False, "d": True}


@dataclass(frozen=True, slots=True)
class BcdDecoding:
    """A profile's ``[decode]`` of kind ``bcd``."""

    number: Span
    length: int
    """Bytes a message must have for every field to be in it."""
    places: int = 0
    """Digits behind the point; ignored where ``places_at`` says it."""
    places_at: int | None = None
    places_max: int = 0
    negative: Bit | None = None
    sign_nibble: bool = False
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
        negative, digits = self._number(raw)
        unit, flags, channel = self.surroundings.read(raw)
        return placed(negative, digits, self._places(raw)), unit, flags, channel

    def _number(self, raw: bytes) -> tuple[bool, str]:
        number = raw[self.number.at : self.number.at + self.number.count]
        digits = (number if self.number.order == "big" else number[::-1]).hex()
        negative = self.negative is not None and self.negative.on(raw)
        if self.sign_nibble:
            sign = _SIGNS.get(digits[-1])
            if sign is None:
                refuse("not-a-digit", f"the half byte {digits[-1].upper()} is no sign", raw)
            negative, digits = sign, digits[:-1]
        if not digits.isdecimal():
            refuse("not-a-digit", f"{digits.upper()} are not all decimal digits", raw)
        return negative, digits

    def _places(self, raw: bytes) -> int:
        if self.places_at is None:
            return self.places
        places = raw[self.places_at]
        if places > self.places_max:
            refuse("exponent", f"{places} digits behind the point are too many", raw)
        return places
