"""Decimal digits: two to a byte, the high half first, or one to a byte.

::

    at      +0     +1     +2          order "big"         sign: a bit, or a half byte
            d6 d5  d4 d3  d2 d1       02 54 00 → 025400
                                      order "little" turns the bytes round: 00 54 02

With ``sign_nibble`` a half byte of the number is its sign and no digit. The last one: A, C, E and
F plus, B and D minus, as in packed decimal of common practice. The first one: 0, A, C and E plus,
8, B, D and F minus.

With one digit to a byte the high halves of all of them must be alike: 0, or 3 as in ASCII.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from drivers.decoding.binary import ALONE, Bit, SignByte, Span, Surroundings, long_enough
from drivers.decoding.integer import sent_exponent, sent_places
from drivers.decoding.message import Decode, Message, refuse
from drivers.decoding.worth import Worth, Worths

_LAST = {**dict.fromkeys("acef", False), **dict.fromkeys("bd", True)}
_FIRST = {**dict.fromkeys("0ace", False), **dict.fromkeys("8bdf", True)}


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
    sign_nibble: bool | Literal["first", "last"] = False
    """True is ``last``."""
    not_known: Bit | None = None
    not_known_says: str = ""
    surroundings: Surroundings = ALONE
    worths: Worths | None = None
    """Takes the place of ``places``."""
    exponent: Span | None = None
    exponent_range: tuple[int, int] = (-18, 18)
    sign: SignByte | None = None
    digits_per_byte: Literal[1, 2] = 2
    low_half_first: bool = False
    """Of two digits to a byte the low half is the one read first."""
    skip: tuple[int, int] = (0, 0)
    """Half bytes before the first digit and behind the last that are no digits."""

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
        worth = Worth(self.places) if self.worths is None else self.worths.of(unit)
        return worth.text(negative, digits, self._sent(raw)), unit, flags, channel

    def _number(self, raw: bytes) -> tuple[bool, str]:
        digits = self._halves(raw)
        digits = digits[self.skip[0] : len(digits) - self.skip[1]]
        negative = self.negative is not None and self.negative.on(raw)
        if self.sign is not None:
            negative = self.sign.negative(raw)
        if self.sign_nibble:
            first = self.sign_nibble == "first"
            half, digits = (digits[0], digits[1:]) if first else (digits[-1], digits[:-1])
            said = (_FIRST if first else _LAST).get(half)
            if said is None:
                refuse("not-a-digit", f"the half byte {half.upper()} is no sign", raw)
            negative = said
        if not digits.isdecimal():
            refuse("not-a-digit", f"{digits.upper()} are not all decimal digits", raw)
        return negative, digits

    def _halves(self, raw: bytes) -> str:
        """The half bytes that hold the number, the highest first."""
        number = raw[self.number.at : self.number.at + self.number.count]
        halves = (number if self.number.order == "big" else number[::-1]).hex()
        if self.digits_per_byte == 2:
            return halves if not self.low_half_first else _swapped(halves)
        if len(set(halves[::2])) > 1:
            refuse("not-a-digit", f"the high halves of {number.hex(' ').upper()} differ", raw)
        return halves[1::2]

    def _sent(self, raw: bytes) -> int | None:
        """Digits behind the point, where the message says it."""
        if self.places_at is not None:
            return sent_places(raw, self.places_at, self.places_max)
        if self.exponent is None:
            return None
        return -sent_exponent(raw, self.exponent, self.exponent_range)


def _swapped(halves: str) -> str:
    """The two halves of every byte the other way round."""
    return "".join(b + a for a, b in zip(halves[::2], halves[1::2], strict=True))
