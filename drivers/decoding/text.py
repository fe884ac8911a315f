"""Text messages, read by a layout.

::

    head │ body                                        │ tail
    02   │ 4E 2B 30 30 32 35 2E 34 30 30 6D 6D         │ 03 37 42
         │ flags, sign, number 0025.400, unit mm       │

Digits stay as sent. Words are read as the profile's ``encoding`` has them; a unit word that nobody
here knows is kept as it came.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal, NoReturn, TypeVar

from drivers.decoding.digits import plain
from drivers.decoding.layout import Pieces, compiled
from drivers.decoding.message import Decode, Message, known_unit, plain_channel, refuse
from drivers.decoding.numeral import Numeral
from drivers.decoding.worth import AS_SENT, Worth, Worths

_KEPT = 256
"""Words remembered per profile; noise must not fill the memory with words."""

_SEVEN = bytes(byte & 0x7F for byte in range(256))

_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class TextDecoding:
    """A profile's ``[decode]`` of kind ``text``."""

    layout: str
    decimal_mark: Literal[".", ","] = "."
    places: int | None = None
    """Digits behind a point that is not sent; None where the point is sent."""
    units: Mapping[str, str] = field(default_factory=dict)
    """The device's word → our name; where empty, any word is looked up among ours."""
    flags: Mapping[str, str] = field(default_factory=dict)
    """The device's letter or word → the flag; an empty flag says nothing."""
    not_known: Mapping[str, str] = field(default_factory=dict)
    """The whole body of a message without a value → what it says, for a person."""
    encoding: Literal["auto", "ascii", "latin-1", "utf-8", "cp437"] = "auto"
    """How words are written; ``auto`` takes UTF-8 and, where the bytes are none, Latin-1."""

    exponent: bool = False
    """Whether a power of ten may stand behind the digits, as in ``1.025E+01``."""
    number_base: Literal["decimal", "hex"] = "decimal"
    hex_negative: Literal["none", "twos", "top-bit"] = "none"
    last_first: bool = False
    """The number's digits come last first."""
    signs: Mapping[str, bool] = field(default_factory=lambda: {"+": False, "-": True})
    """The device's sign → whether it is a minus."""
    padding: bytes = b""
    """Bytes that count as blanks."""
    unit: str | None = None
    """Our name of the unit of every message that does not name one."""
    worths: Worths = AS_SENT
    """What a count is worth by unit; its places are taken where ``places`` is not None."""
    seven_bits: bool = False
    """Whether the eighth bit of every byte is not looked at."""

    @property
    def has_channel(self) -> bool:
        """Whether a message says which instrument it comes from."""
        return "{channel" in self.layout

    def compiled(self) -> re.Pattern[bytes]:
        """The layout's pattern; raises ``LayoutError``."""
        units, flags = self._coded(self.units), self._coded(self.flags)
        number, signs = self.numeral.pattern, self._coded(self.signs)
        return compiled(self.layout, Pieces(number, units, flags, signs, self.padding))

    @property
    def numeral(self) -> Numeral:
        """How the number is written."""
        return Numeral(
            mark="" if self.places is not None else self.decimal_mark,
            exponent=self.exponent,
            base=self.number_base,
            hex_negative=self.hex_negative,
            last_first=self.last_first,
        )

    def decoder(self, head: int, tail: int) -> Decode:
        """The function that reads messages with ``head`` bytes before and ``tail`` bytes after
        the body."""
        return _decoder(self, head, tail)

    def _coded(self, words: Iterable[str]) -> list[bytes]:
        return [coded for word in words for coded in encoded(word, self.encoding)]


def encoded(word: str, encoding: str) -> list[bytes]:
    """The bytes a device may write the word in; none where the encoding cannot write it."""
    found = []
    for name in ("utf-8", "latin-1") if encoding == "auto" else (encoding,):
        with contextlib.suppress(UnicodeEncodeError):
            found.append(word.encode(name))
    return list(dict.fromkeys(filter(None, found)))


def _text(word: bytes, encoding: str) -> str:
    if encoding != "auto":
        return word.decode(encoding, errors="backslashreplace")
    try:
        return word.decode("utf-8")
    except UnicodeDecodeError:
        return word.decode("latin-1")


def _decoder(decoding: TextDecoding, head: int, tail: int) -> Decode:
    layout = decoding.compiled()
    match = layout.fullmatch
    index = layout.groupindex
    sign_at, number_at, unit_at = index["sign"], index["number"], index["unit"]
    flags_at, channel_at, close_at = index["flags"], index["channel"], index["close"]
    minus = {
        coded
        for sign, negative in decoding.signs.items()
        if negative
        for coded in encoded(sign, decoding.encoding)
    }
    closes, seven, unnamed = "{close" in decoding.layout, decoding.seven_bits, decoding.unit
    unit_of = _Words(lambda word: _unit(decoding, word))
    flags_of = _Words(_flags(decoding))
    channel_of = _Words(lambda word: plain_channel(word.decode("latin-1")))
    worths = _worths(decoding)
    digits_of, plainly = decoding.numeral.reader(worths), decoding.numeral.is_plain(worths)
    refuse_shape = _shape(decoding, head, tail)

    def decode(raw: bytes) -> Message:
        seen = raw.translate(_SEVEN) if seven else raw
        found = match(seen, head, len(raw) - tail)
        if found is None:
            refuse_shape(raw, seen)
        sign, number, word, flags, channel = found.group(
            sign_at, number_at, unit_at, flags_at, channel_at
        )
        if closes and (sign == b"(") != (found[close_at] is not None):
            refuse("layout", "one of the two brackets around the number is missing", raw)
        unit = unit_of[word] if word else unnamed
        if plainly:
            digits = plain(sign in minus, number.decode())
        else:
            try:
                digits = digits_of(sign in minus, number.decode(), unit)
            except ValueError as error:
                refuse("exponent", f"{error}", raw)
        return (
            digits,
            unit,
            flags_of[flags] if flags else (),
            channel_of[channel] if channel else None,
        )

    return decode


def _shape(decoding: TextDecoding, head: int, tail: int) -> Callable[[bytes, bytes], NoReturn]:
    """Says why a message does not fit the layout."""
    not_known = {
        coded: says
        for body, says in decoding.not_known.items()
        for coded in encoded(body, decoding.encoding)
    }

    blanks = b" \t" + decoding.padding

    def refuse_shape(raw: bytes, seen: bytes) -> NoReturn:
        body = seen[head : len(seen) - tail]
        says = not_known.get(body.strip(b" \t")) or not_known.get(body.strip(blanks))
        if says is not None:
            refuse("not-known", says, raw)
        refuse("layout", "the message does not have the profile's layout", raw)

    return refuse_shape


def _worths(decoding: TextDecoding) -> Worths:
    """The worths, with the places of a decoding that names no other."""
    if decoding.worths is AS_SENT and decoding.places is not None:
        return Worths(Worth(decoding.places))
    return decoding.worths


def _unit(decoding: TextDecoding, word: bytes) -> str:
    text = _text(word, decoding.encoding)
    named = decoding.units.get(text)
    return known_unit(text if named is None else named)


def _flags(decoding: TextDecoding) -> Callable[[bytes], tuple[str, ...]]:
    meanings = {
        coded: flag
        for word, flag in decoding.flags.items()
        for coded in encoded(word, decoding.encoding)
    }
    longest_first = sorted(meanings, key=len, reverse=True)
    words = re.compile(b"|".join(map(re.escape, longest_first)) or rb"(?!)")

    def meant(text: bytes) -> tuple[str, ...]:
        return tuple(flag for word in words.findall(text) if (flag := meanings[word]))

    return meant


class _Words(dict[bytes, _T]):
    """What each word means, worked out when it first comes."""

    def __init__(self, meaning: Callable[[bytes], _T]) -> None:
        super().__init__()
        self._meaning = meaning

    def __missing__(self, word: bytes) -> _T:
        value = self._meaning(word)
        if len(self) < _KEPT:
            self[word] = value
        return value
