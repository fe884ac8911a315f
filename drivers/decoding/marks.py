"""Which bytes of a message a decoding reads, and for what: to show a message with its fields.

It reads the same descriptions as the decodings do, and no values: a mark says where something is,
never what it says.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from drivers.decoding.bcd import BcdDecoding
from drivers.decoding.binary import Bit, SignByte, Surroundings
from drivers.decoding.binary import Span as Bytes
from drivers.decoding.floating import FloatDecoding
from drivers.decoding.gatt import GattDecoding
from drivers.decoding.integer import IntegerDecoding
from drivers.decoding.layout import READ
from drivers.decoding.text import TextDecoding

Decoding = TextDecoding | BcdDecoding | IntegerDecoding | FloatDecoding | GattDecoding
_SEVEN = bytes(byte & 0x7F for byte in range(256))


class Field(NamedTuple):
    """Bytes that are read for one thing. A byte may be read for several."""

    name: str
    """``number``, ``sign``, ``unit``, ``flags``, ``channel``; ``point``: where the decimal point
    is; ``no_value``: whether there is one at all; ``fixed``: what must always be so."""
    first: int
    end: int
    """The byte after the last."""


def fields(decoding: Decoding, raw: bytes, head: int, tail: int) -> list[Field]:
    """The fields of a message that the decoding reads, with ``head`` bytes before its body and
    ``tail`` bytes behind it; none where the message does not have the shape that is read."""
    if isinstance(decoding, TextDecoding):
        return list(_of_text(decoding, raw, head, tail))
    if isinstance(decoding, GattDecoding):
        return [Field("number", 0, len(raw))] if len(raw) == decoding.size else []
    if len(raw) < decoding.length:
        return []
    return list(_of_binary(decoding))


def _of_text(decoding: TextDecoding, raw: bytes, head: int, tail: int) -> Iterator[Field]:
    seen = raw.translate(_SEVEN) if decoding.seven_bits else raw
    found = decoding.compiled().fullmatch(seen, head, len(raw) - tail)
    for name in READ if found else ():
        assert found is not None
        first, end = found.span(name)
        if first < end:
            yield Field("sign" if name == "close" else name, first, end)


def _of_binary(decoding: BcdDecoding | IntegerDecoding | FloatDecoding) -> Iterator[Field]:
    yield _bytes("number", decoding.number)
    no_value: Bit | None
    if isinstance(decoding, IntegerDecoding):
        no_value = decoding.not_known_bit
    else:
        no_value = decoding.not_known
    for name, place in (
        ("sign", decoding.sign),
        ("sign", decoding.negative),
        ("no_value", no_value),
    ):
        if place is not None:
            yield _byte(name, place)
    if not isinstance(decoding, FloatDecoding):
        if decoding.exponent is not None:
            yield _bytes("point", decoding.exponent)
        if decoding.places_at is not None:
            yield Field("point", decoding.places_at, decoding.places_at + 1)
    if isinstance(decoding, BcdDecoding) and decoding.sign_nibble:
        yield _sign_nibble(decoding)
    yield from _around(decoding.surroundings)


def _sign_nibble(decoding: BcdDecoding) -> Field:
    """The byte of the number that holds the half byte of its sign."""
    number, per_byte = decoding.number, decoding.digits_per_byte
    first = decoding.sign_nibble == "first"
    halves = number.count * per_byte
    half = decoding.skip[0] if first else halves - decoding.skip[1] - 1
    byte = half // per_byte
    at = number.at + (byte if number.order == "big" else number.count - 1 - byte)
    return Field("sign", at, at + 1)


def _around(surroundings: Surroundings) -> Iterator[Field]:
    if surroundings.unit is not None:
        yield Field("unit", surroundings.unit.at, surroundings.unit.at + 1)
    for bit, _ in surroundings.flags:
        yield _byte("flags", bit)
    if surroundings.channel is not None:
        yield _bytes("channel", surroundings.channel)
    for always in surroundings.always:
        yield Field("fixed", always.at, always.at + 1)


def _bytes(name: str, place: Bytes) -> Field:
    return Field(name, place.at, place.at + place.count)


def _byte(name: str, place: Bit | SignByte) -> Field:
    return Field(name, place.at, place.at + 1)
