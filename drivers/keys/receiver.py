"""The text of an instrument that types, read: and what spoils a message, kept with its name."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from capture.instrument import Instrument
from capture.reading import Captured, Stamp
from drivers.adapters.receiver import Receiver
from drivers.keys.typist import CLOSE, LOST, MIDWAY, OPEN
from drivers.profiles.profile import Profile

_PIECES: Final = re.compile(rb"%b([^%b]*)%b|[^%b]+" % (OPEN, CLOSE, CLOSE, OPEN))
_MOST: Final = 1024
"""Bytes kept of a spoilt message."""


class KeyReceiver(Receiver):
    """Reads as any receiver, but for a message with a mark in it: of that one, nobody can say
    what it would have been, so all of it up to its end is kept unread."""

    def __init__(self, profile: Profile, port: str, instruments: Sequence[Instrument]) -> None:
        super().__init__(profile, port, instruments)
        self._wait = profile.framing.gap or profile.framing.patience
        ends = b"|".join(map(re.escape, profile.framing.terminators)) or b"\n"
        self._ends = re.compile(ends)
        self._spoilt: bytes | None = None
        self._why = ("", "")
        self._at = Stamp("", 0)

    def receive(self, chunk: bytes, stamp: Stamp) -> list[Captured]:
        """See ``Receiver.receive``; ``chunk`` is text with marks."""
        if self._spoilt is None and OPEN not in chunk:
            return super().receive(chunk, stamp)
        items: list[Captured] = []
        for piece in _PIECES.finditer(chunk):
            self._at = stamp
            if piece[1] is not None:
                self._spoil(piece[1], stamp)
            elif self._spoilt is None:
                items += super().receive(piece[0], stamp)
            else:
                items += self._waste(piece[0], stamp)
        return items

    @property
    def due(self) -> int | None:
        """See ``Receiver.due``."""
        return super().due if self._spoilt is None else self._at.mono + self._wait

    def silence(self, mono: int) -> list[Captured]:
        """See ``Receiver.silence``: a spoilt message ends with it too."""
        if self._spoilt is None:
            return super().silence(mono)
        return self._given_up() if mono >= self._at.mono + self._wait else []

    def drain(self) -> list[Captured]:
        """See ``Receiver.drain``."""
        return [*self._given_up(), *super().drain()]

    def _spoil(self, name: bytes, stamp: Stamp) -> None:
        """Takes the message in hand out of the framer: it is spoilt from its beginning."""
        if self._spoilt is None:
            left = self._framer.drain()
            self._spoilt = b"".join(one if isinstance(one, bytes) else one.raw for one in left)
            self._half = b""
            self._why = _reason(name.decode())
        elif name == LOST.encode():
            self._why = _reason(LOST)
        self._spoilt = (self._spoilt + b"<" + name + b">")[:_MOST]

    def _waste(self, text: bytes, stamp: Stamp) -> list[Captured]:
        assert self._spoilt is not None
        end = self._ends.search(text)
        self._spoilt = (self._spoilt + text[: end.end() if end else None])[:_MOST]
        if end is None:
            return []
        items = self._given_up()
        rest = text[end.end() :]
        return items + super().receive(rest, stamp) if rest else items

    def _given_up(self) -> list[Captured]:
        raw, self._spoilt = self._spoilt, None
        return [] if raw is None else [self._undecodable(raw, *self._why, self._at)]


def _reason(name: str) -> tuple[str, str]:
    if name == LOST:
        return LOST, "key events were lost in the system before they were read; press SEND again"
    if name == MIDWAY:
        return MIDWAY, "typed while the device was being opened: its beginning may be missing"
    return "unknown-key", f"the key {name} types no character, so this is no message of its own"
