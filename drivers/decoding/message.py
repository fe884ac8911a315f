"""What a decoder makes of one message."""

from __future__ import annotations

from collections.abc import Callable
from typing import NoReturn

from capture.errors import DecodingError, UnitError
from capture.quantity import unit_name

Message = tuple[str, str | None, tuple[str, ...], str | None]
"""One message, read. A plain tuple: one is made and taken apart for every press of a flood.

0. digits: decimal text as ``capture.reading.Reading.digits`` has it;
1. unit: our name of it, or the device's own word if unknown; None where none was sent;
2. flags: in the profile's words;
3. channel: without leading zeros; None where the profile has no channels.
"""

Decode = Callable[[bytes], Message]
"""Reads one message, framing bytes included; raises ``DecodingError``. The codes are ``layout``
(the message does not have the profile's shape), ``not-a-digit``, ``not-known`` (the device says
that it has no value), ``unit`` and ``exponent`` (a byte that means nothing in the profile)."""


def refuse(code: str, message: str, frame: bytes) -> NoReturn:
    """Raises the error for a message that makes no reading."""
    raise DecodingError(code, message, frame)


def known_unit(word: str) -> str:
    """Our name for the unit, or the word as sent where nobody here knows it."""
    try:
        return unit_name(word)
    except UnitError:
        return word


def plain_channel(text: str) -> str:
    """A channel as bench.toml writes it: ``03`` is ``3``."""
    return text.lstrip("0") or "0" if text.isdecimal() else text
