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
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal, NoReturn, TypeVar

from drivers.decoding.digits import placed, plain
from drivers.decoding.layout import Pieces, compiled
from drivers.decoding.message import Decode, Message, known_unit, plain_channel, refuse

_KEPT = 256
"""Words remembered per profile; noise must not fill the memory with words."""

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

    @property
    def has_channel(self) -> bool:
        """Whether a message says which instrument it comes from."""
        return "{channel" in self.layout

    def compiled(self) -> re.Pattern[bytes]:
        """The layout's pattern; raises ``LayoutError``."""
        mark = "" if self.places is not None else self.decimal_mark
        return compiled(self.layout, Pieces(mark, self._coded(self.units), self._coded(self.flags)))

    def decoder(self, head: int, tail: int) -> Decode:
        """The function that reads messages with ``head`` bytes before and ``tail`` bytes after
        the body."""
        return _decoder(self, head, tail)

    def _coded(self, words: Mapping[str, str]) -> list[bytes]:
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
    flags_at, channel_at = index["flags"], index["channel"]
    unit_of = _Words(lambda word: _unit(decoding, word))
    flags_of = _Words(_flags(decoding))
    channel_of = _Words(lambda word: plain_channel(word.decode("latin-1")))
    digits_of = _digits(decoding)
    refuse_shape = _shape(decoding, head, tail)

    def decode(raw: bytes) -> Message:
        found = match(raw, head, len(raw) - tail)
        if found is None:
            refuse_shape(raw)
        sign, number, unit, flags, channel = found.group(
            sign_at, number_at, unit_at, flags_at, channel_at
        )
        return (
            digits_of(sign == b"-", number.decode()),
            unit_of[unit] if unit else None,
            flags_of[flags] if flags else (),
            channel_of[channel] if channel else None,
        )

    return decode


def _shape(decoding: TextDecoding, head: int, tail: int) -> Callable[[bytes], NoReturn]:
    """Says why a message does not fit the layout."""
    not_known = {
        coded: says
        for body, says in decoding.not_known.items()
        for coded in encoded(body, decoding.encoding)
    }

    def refuse_shape(raw: bytes) -> NoReturn:
        says = not_known.get(raw[head : len(raw) - tail].strip(b" \t"))
        if says is not None:
            refuse("not-known", says, raw)
        refuse("layout", "the message does not have the profile's layout", raw)

    return refuse_shape


def _digits(decoding: TextDecoding) -> Callable[[bool, str], str]:
    places = decoding.places
    if places is not None:
        return lambda negative, number: placed(negative, number, places)
    if decoding.decimal_mark == ",":
        return lambda negative, number: plain(negative, number.replace(",", "."))
    return plain


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
