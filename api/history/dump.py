"""A reading's bytes with the fields marked in them, read again with the profile that was in
force."""

from __future__ import annotations

from typing import Any, NamedTuple

from capture.errors import BenchError, DecodingError

Data = dict[str, Any]


class Part(NamedTuple):
    """Bytes in a row that are for the same."""

    first: int
    last: int
    bytes: str
    """Hexadecimal, two digits a byte."""
    characters: str
    """As ASCII, with a dot for what is no printable sign."""
    names: tuple[str, ...]
    """Of ``drivers.profiles.marks.ORDER``; empty where they are not read."""


class Dump(NamedTuple):
    """A message, marked."""

    parts: list[Part]
    lines: list[tuple[str, str, str]]
    """(position, bytes, characters), sixteen bytes each."""
    title: str | None
    """Of the profile; None where none could be used, and nothing is marked."""
    digits: str | None
    """What the profile makes of it now; None where it makes nothing."""
    unit: str | None
    trouble: str | None
    """Why it makes nothing, for a person."""


def dump(raw: bytes, profile: Data | None) -> Dump:
    """``profile`` is the body of the ledger's profile entry."""
    lines = [
        (f"{at:04x}", raw[at : at + 16].hex(" ").upper(), _characters(raw[at : at + 16]))
        for at in range(0, len(raw), 16)
    ]
    whole = [Part(0, len(raw) - 1, raw.hex(" ").upper(), _characters(raw), ())]
    if profile is None:
        return Dump(whole, lines, None, None, None, None)
    from drivers.profiles.load import parse_profile
    from drivers.profiles.marks import marked

    try:
        loaded = parse_profile(profile["text"].encode(), profile["name"], profile["name"])
    except BenchError as error:
        return Dump(whole, lines, None, None, None, str(error))
    parts = [
        Part(
            mark.first,
            mark.end - 1,
            raw[mark.first : mark.end].hex(" ").upper(),
            _characters(raw[mark.first : mark.end]),
            mark.names,
        )
        for mark in marked(loaded, raw)
    ]
    try:
        digits, unit, _, _ = loaded.decoding.decoder(*loaded.framing.edges)(raw)
    except DecodingError as error:
        return Dump(parts, lines, loaded.title, None, None, str(error))
    return Dump(parts, lines, loaded.title, digits, unit, None)


def _characters(data: bytes) -> str:
    return "".join(chr(byte) if 0x20 <= byte < 0x7F else "·" for byte in data)
