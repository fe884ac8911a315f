"""From key events to the text that was typed. Knows no port and no clock.

What types no character stands in the text as a mark, so that nothing is dropped silently::

    FF name-of-the-key FE          no text has these two bytes in it
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from drivers.keys.event import PRESSED, Events, dropped
from drivers.keys.names import HELD, SHIFTS, SILENT, TYPES, name_of

OPEN: Final = b"\xff"
CLOSE: Final = b"\xfe"
LOST: Final = "events-lost"
"""The mark where the kernel has dropped events because nobody read them in time."""
MIDWAY: Final = "opened-midway"
"""The mark before what came so soon after the opening that its beginning may have come before."""

Changes = Mapping[tuple[int, bool], str]
"""(Key, whether a shift is held) → what it types on this instrument."""
_NONE: Changes = {}


def mark(name: str) -> bytes:
    """How a key that types nothing stands in the text."""
    return OPEN + name.encode() + CLOSE


class Typist:
    """Follows one keyboard: releases and repeats type nothing, shift is held from press to
    release."""

    def __init__(self, changes: Changes = _NONE) -> None:
        self._events = Events()
        self._types = TYPES if not changes else {**TYPES, **changes}
        self._down: set[int] = set()

    def feed(self, chunk: bytes) -> bytes:
        """The text that these bytes of the device's node type; may be empty."""
        text = bytearray()
        for event in self._events.feed(chunk):
            if dropped(event):
                text += mark(LOST)
                # The system could be asked which keys are down (EVIOCGKEY), and would throw away
                # those we have not read yet (drivers/input/evdev.c, from memory). What is typed
                # from here to the end of the message is not used anyway.
                self._down.clear()
            elif event.code in SILENT:
                (self._down.discard if event.value == 0 else self._down.add)(event.code)
            elif event.value == PRESSED:
                text += self._typed(event.code)
        return bytes(text)

    def _typed(self, code: int) -> bytes:
        beside = sorted({HELD[key] for key in self._down if key in HELD})
        letter = self._types.get((code, bool(self._down & SHIFTS)))
        if letter is None or beside:
            return mark("+".join([*beside, name_of(code)]))
        return letter.encode()
