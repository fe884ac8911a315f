"""Badge scanners: what one types, cut into scans. Knows no port and no clock."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, NamedTuple

from drivers.keys.typist import CLOSE, LOST, MIDWAY, OPEN

LONGEST: Final = 200
"""Characters of a badge."""
_MOST: Final = 4 * LONGEST + 4
"""Bytes that are kept of one scan: UTF-8 has four to a character at most."""
PAUSE: Final = 2.0
"""Seconds after which what was begun and not ended by Enter is given up: a scanner types a badge
in one go (common practice, no source)."""
_PIECES: Final = re.compile(rb"%b([^%b]*)%b|([\r\n])|[^%b\r\n]+" % (OPEN, CLOSE, CLOSE, OPEN))


@dataclass(frozen=True, slots=True)
class BadgeReader:
    """One badge scanner of bench.toml."""

    id: str
    device: str
    keys: tuple[tuple[str, str], ...] = ()
    """The keys that type something else on it than on a keyboard of the United States."""


class Scan(NamedTuple):
    """What came up to Enter."""

    text: str
    """Empty where it cannot be told."""
    spoilt: str = ""
    """Why it cannot; empty where it can."""


class Scans:
    """From the text of one scanner, with the marks of ``drivers.keys.typist``, to scans."""

    def __init__(self) -> None:
        self._text = bytearray()
        self._spoilt = ""
        self._last = 0.0

    def feed(self, chunk: bytes, at: float) -> list[Scan]:
        """The scans that ``chunk``, which came ``at`` this second, ends. Enter alone is none."""
        if at - self._last > PAUSE:
            self._text.clear()
            self._spoilt = ""
        self._last = at
        found = []
        for piece in _PIECES.finditer(chunk):
            if piece[1] is not None:
                self._spoilt = self._spoilt or _reason(piece[1].decode())
            elif piece[2] is None:
                self._take(piece[0])
            elif scan := self._ended():
                found.append(scan)
        return found

    def _take(self, text: bytes) -> None:
        self._text += text[: _MOST - len(self._text)]

    def _ended(self) -> Scan | None:
        text, spoilt = self._text.decode(errors="replace").strip(), self._spoilt
        if len(text) > LONGEST:
            spoilt = spoilt or f"it is longer than {LONGEST} characters"
        self._text.clear()
        self._spoilt = ""
        if spoilt:
            return Scan("", spoilt)
        return Scan(text) if text else None


def _reason(name: str) -> str:
    if name == LOST:
        return "key events were lost in the system before they were read"
    if name == MIDWAY:
        return "it came while the scanner was being opened"
    return f"the key {name} in it types no character"
