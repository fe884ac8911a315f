"""Every way in which bytes at one place may be a number: integers, decimal digits, floats.

::

    way           signed where                     digits
    twos          two's complement
    magnitude     the highest bit of the number
    unsigned      somewhere else, or nowhere
    packed        last half byte, first half byte, elsewhere
    unpacked      last byte, first byte, elsewhere  low halves; the high halves are all alike
    float         IEEE 754
"""

from __future__ import annotations

import math
import struct
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import product
from typing import Literal

from drivers.learn.scale import Count

Order = Literal["big", "little"]
Way = Literal["integer", "packed", "unpacked", "float"]
Sign = Literal["twos", "top", "none", "first", "last"]
_MINUS = {"a": False, "c": False, "f": False, "e": False, "d": True, "b": True}


@dataclass(frozen=True, slots=True)
class Place:
    """A place in every message, and the way of reading it."""

    at: int
    size: int
    """Bytes."""
    order: Order
    way: Way
    sign: Sign = "none"
    """Where the sign is: in the number's own way, or not in it (``none``)."""
    turned: bool = False
    """Of two digits to a byte the low half is read first."""
    skip: tuple[int, int] = (0, 0)
    """Half bytes before the first digit and behind the last that are none."""

    @property
    def spare(self) -> dict[int, int]:
        """The bits of its bytes that are not the number's: byte → mask."""
        made: dict[int, int] = {}
        if self.skip[0]:
            made[self.top] = 0x0F if self.turned else 0xF0
        if self.skip[1]:
            made[self.low] = made.get(self.low, 0) | (0xF0 if self.turned else 0x0F)
        return made

    @property
    def low(self) -> int:
        """The byte with the lowest digits."""
        return self.at + self.size - 1 if self.order == "big" else self.at

    @property
    def signed(self) -> bool:
        return self.sign != "none" or self.way == "float"

    @property
    def bytes_used(self) -> range:
        return range(self.at, self.at + self.size)

    @property
    def top(self) -> int:
        """The byte with the highest digits."""
        return self.at if self.order == "big" else self.at + self.size - 1

    def count(self, raw: bytes) -> Count | None:
        """The number in ``raw``; None where the bytes are none in this way."""
        piece = raw[self.at : self.at + self.size]
        if self.order == "little":
            piece = piece[::-1]
        if self.way == "integer":
            return self._integer(piece)
        if self.way == "float":
            return _float(piece)
        return self._digits(piece)

    def _integer(self, piece: bytes) -> Count:
        if self.sign == "top":
            value = int.from_bytes(piece, "big")
            top = 1 << (8 * len(piece) - 1)
            return Count(-(value - top) if value & top else value)
        return Count(int.from_bytes(piece, "big", signed=self.sign == "twos"))

    def _digits(self, piece: bytes) -> Count | None:
        if self.way == "packed":
            digits = piece.hex()
            if self.turned:
                digits = "".join(b + a for a, b in zip(digits[::2], digits[1::2], strict=True))
            digits = digits[self.skip[0] : len(digits) - self.skip[1]]
        else:
            digits = "".join("0123456789abcdef"[byte & 15] for byte in piece)
        negative = False
        if self.sign == "last":
            if digits[-1] not in _MINUS:
                return None
            negative, digits = _MINUS[digits[-1]], digits[:-1]
        elif self.sign == "first":
            if digits[0] not in "0f":
                return None
            negative, digits = digits[0] == "f", digits[1:]
        if not digits.isdecimal():
            return None
        return Count(-int(digits) if negative else int(digits))


def _float(piece: bytes) -> Count | None:
    value = struct.unpack(">f" if len(piece) == 4 else ">d", piece)[0]
    if not math.isfinite(value) or (value and not 1e-9 < abs(value) < 1e9):
        return None
    shown = Decimal(repr(value)) if len(piece) == 8 else _shortest(value)
    exponent = int(shown.as_tuple().exponent)
    if exponent > 0:
        return Count(int(shown), 0)
    return Count(int(shown.scaleb(-exponent)), -exponent)


def _shortest(value: float) -> Decimal:
    """The shortest decimal that is this 32-bit float."""
    for digits in range(6, 9):
        text = f"{value:.{digits}g}"
        if struct.unpack(">f", struct.pack(">f", float(text)))[0] == value:
            return Decimal(text)
    return Decimal(f"{value:.9g}")


def places(messages: Sequence[bytes]) -> Iterator[tuple[Place, list[Count]]]:
    """Every place and way that gives a number in every message, where the lowest byte changes."""
    length = min(map(len, messages))
    varies = [len({message[at] for message in messages}) > 1 for at in range(length)]
    for place in _all(length, messages):
        if place.way == "integer" and not varies[place.low]:
            continue
        if not any(varies[at] for at in place.bytes_used):
            continue
        counts = []
        for message in messages:
            count = place.count(message)
            if count is None:
                break
            counts.append(count)
        else:
            if len(set(counts)) > 1:
                yield place, counts


_SIZES: dict[Way, tuple[int, ...]] = {
    "integer": (2, 3, 4),
    "packed": (2, 3, 4, 5, 6),
    "float": (4, 8),
    "unpacked": tuple(range(3, 11)),
}
_SIGNED: dict[Way, tuple[Sign, ...]] = {
    "integer": ("twos", "top", "none"),
    "packed": ("none", "first", "last"),
    "float": ("none",),
    "unpacked": ("none", "first", "last"),
}


def _all(length: int, messages: Sequence[bytes]) -> Iterator[Place]:
    orders: tuple[Order, ...] = ("big", "little")
    for order, at, (way, sizes) in product(orders, range(length), _SIZES.items()):
        for size in sizes:
            if at + size > length:
                break
            if way == "unpacked" and not _one_digit_each(messages, at, size):
                break
            for sign in _SIGNED[way]:
                yield Place(at, size, order, way, sign)
            if way == "packed":
                yield from _by_halves(Place(at, size, order, way))


def _by_halves(place: Place) -> Iterator[Place]:
    """Digits that begin or end within a byte, or that come last first by the half byte."""
    for skip in ((1, 0), (0, 1), (1, 1)):
        yield replace(place, skip=skip)
    if place.order == "little":
        for skip in ((0, 0), (1, 0), (0, 1), (1, 1)):
            yield replace(place, skip=skip, turned=True)


def _one_digit_each(messages: Sequence[bytes], at: int, size: int) -> bool:
    """Whether the high halves are alike, in every byte of every message."""
    highs = {byte >> 4 for message in messages for byte in message[at : at + size]}
    return len(highs) == 1
