"""The wire formats, written from their layouts: a display's number as the bytes a gauge sends.

Written from the drawings at the head of the profile files, without the decoders: a second witness
to what the bytes mean. Every layout is invented. Digits go out as displayed, trailing zeros too.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import ClassVar, Protocol, TypeVar

Written = TypeVar("Written", str, int)

STX, ETX = b"\x02", b"\x03"


class NotOnThisWire(ValueError):
    """A value, unit or channel the format has no room for."""


class Wire(Protocol):
    """One instrument's way of writing."""

    def message(self, value: Decimal, unit: str) -> bytes:
        """One whole message. NotOnThisWire if the format has no room for it."""
        ...

    def noise(self, drawn: random.Random) -> bytes:
        """Bytes that are no message and spoil none after them."""
        ...


def _digits(value: Decimal) -> str:
    if not value.is_finite():
        raise NotOnThisWire(f"{value} is not a number a gauge can show.")
    return format(abs(value), "f")


def _sign(value: Decimal) -> str:
    return "-" if value.is_signed() and value else "+"


def _junk(drawn: random.Random, without: bytes) -> bytes:
    """A few bytes as a bad contact makes them, none of them in ``without``."""
    usable = bytes(byte for byte in range(0x80, 0x100) if byte not in without)
    return bytes(drawn.choice(usable) for _ in range(drawn.randint(2, 6)))


class DecimalLine:
    """``+25.400 mm`` CR LF; the unit word may be left out."""

    def __init__(self, with_unit: bool = True) -> None:
        self._with_unit = with_unit

    def message(self, value: Decimal, unit: str) -> bytes:
        if self._with_unit and not unit.isascii():
            raise NotOnThisWire(f"This format is ASCII and cannot write '{unit}': leave it out.")
        word = f" {unit}" if self._with_unit else ""
        return f"{_sign(value)}{_digits(value)}{word}\r\n".encode("ascii")

    def noise(self, drawn: random.Random) -> bytes:
        return _junk(drawn, b"") + b"\r\n"


class ChannelLine:
    """``C03 +12.345 mm`` CR LF: the receiver's channel in two digits first."""

    _WORDS: ClassVar = {"mm": "mm", "in": "in", "°": "deg", "N·m": "N.m", "g": "g"}

    def __init__(self, channel: str) -> None:
        if not channel.isdigit() or not 0 <= int(channel) <= 99:
            raise NotOnThisWire(f"A channel is a number from 0 to 99, not '{channel}'.")
        self._channel = int(channel)

    def message(self, value: Decimal, unit: str) -> bytes:
        word = _word(self._WORDS, unit)
        return f"C{self._channel:02d} {_sign(value)}{_digits(value)} {word}\r\n".encode("ascii")

    def noise(self, drawn: random.Random) -> bytes:
        return _junk(drawn, b"") + b"\r\n"


class FramedLineXor:
    """STX, flag, sign, eight characters of number, unit, ETX, exclusive or in two hex digits."""

    def message(self, value: Decimal, unit: str) -> bytes:
        number = _digits(value)
        if len(number) > 8:
            raise NotOnThisWire(f"{number} has more than 8 characters.")
        word = _word({"mm": "mm", "in": "in"}, unit)
        body = f"N{_sign(value)}{number:0>8}{word}".encode("ascii") + ETX
        check = 0
        for byte in body:
            check ^= byte
        return STX + body + b"%02X" % check

    def noise(self, drawn: random.Random) -> bytes:
        return _junk(drawn, b"")


class PackedBcd:
    """AA, status, six digits in three bytes, places, sum of the five bytes between."""

    _UNITS: ClassVar = {"mm": 0, "in": 1, "°": 2}

    def message(self, value: Decimal, unit: str) -> bytes:
        places = _places(value)
        number = str(abs(int(value.scaleb(places))))
        if len(number) > 6 or places > 6:
            raise NotOnThisWire(f"{value} has more than 6 digits.")
        status = _word(self._UNITS, unit) | (0x80 if _sign(value) == "-" else 0)
        body = bytes((status,)) + bytes.fromhex(number.zfill(6)) + bytes((places,))
        return b"\xaa" + body + bytes((sum(body) % 256,))

    def noise(self, drawn: random.Random) -> bytes:
        return _junk(drawn, b"\xaa")


class IntegerLe:
    """A5 5A, status, the number as a little-endian integer, its exponent of ten, a CRC."""

    _UNITS: ClassVar = {"mm": 0, "in": 1, "µm": 2, "N·m": 3, "°": 4, "g": 5}

    def message(self, value: Decimal, unit: str) -> bytes:
        places = _places(value)
        number = int(value.scaleb(places))
        if not -(2**31) < number < 2**31 or places > 9:
            raise NotOnThisWire(f"{value} does not fit 32 bits.")
        body = (
            bytes((_word(self._UNITS, unit),))
            + number.to_bytes(4, "little", signed=True)
            + (-places).to_bytes(1, "little", signed=True)
        )
        return b"\xa5\x5a" + body + crc16(body).to_bytes(2, "little")

    def noise(self, drawn: random.Random) -> bytes:
        return _junk(drawn, b"\xa5")


class TorquePeakLine:
    """``#0012 PEAK 85.4 N.m CW`` CR LF, counting from 1 and round after 9999."""

    _WORDS: ClassVar = {"N·m": "N.m", "lbf·ft": "lbf.ft", "lbf·in": "lbf.in"}

    def __init__(self) -> None:
        self._count = 0

    def message(self, value: Decimal, unit: str) -> bytes:
        word = _word(self._WORDS, unit)
        self._count = self._count % 9999 + 1
        turn = "CCW" if _sign(value) == "-" else "CW"
        return f"#{self._count:04d} PEAK {_digits(value)} {word} {turn}\r\n".encode("ascii")

    def noise(self, drawn: random.Random) -> bytes:
        return _junk(drawn, b"") + b"\r\n"


def _word(words: Mapping[str, Written], unit: str) -> Written:
    try:
        return words[unit]
    except KeyError:
        raise NotOnThisWire(
            f"This format has no word for '{unit}', only for {', '.join(words)}."
        ) from None


def _places(value: Decimal) -> int:
    return len(_digits(value).partition(".")[2])


def crc16(data: bytes) -> int:
    """The 16-bit CRC with polynomial 1021, initial FFFF, not reflected, no final exclusive or."""
    value = 0xFFFF
    for byte in data:
        value ^= byte << 8
        for _ in range(8):
            value = (value << 1) ^ (0x1021 if value & 0x8000 else 0)
        value &= 0xFFFF
    return value


REQUEST = b"V\r"
"""What an instrument of the profile asked-decimal-line waits for."""
NOTHING_TO_GIVE = b"ERR\r\n"
"""What it answers when it has no value."""

_MAKERS: dict[str, Callable[[], Wire]] = {
    "framed-line-xor": FramedLineXor,
    "packed-bcd": PackedBcd,
    "integer-le": IntegerLe,
    "torque-peak-line": TorquePeakLine,
}


def wire_for(profile: str, channel: str | None = None, with_unit: bool = True) -> Wire:
    """The writer for a shipped profile's name."""
    if profile == "channel-line":
        if channel is None:
            raise NotOnThisWire("An instrument behind a receiver needs a channel.")
        return ChannelLine(channel)
    if profile in ("decimal-line", "asked-decimal-line"):
        return DecimalLine(with_unit)
    if profile not in _MAKERS:
        known = ", ".join(sorted([*_MAKERS, "channel-line", "decimal-line", "asked-decimal-line"]))
        raise NotOnThisWire(f"No simulated gauge writes '{profile}', only {known}.")
    return _MAKERS[profile]()
