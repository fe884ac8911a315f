"""Recorded key events: what the node of an input device gives, and such a node made of a FIFO.

The layout and numbers are written here from the kernel's headers, apart from the product's;
tests/outside/test_input_header.py holds both to the header of this system.
"""

from __future__ import annotations

import contextlib
import os
import select
import struct
from collections.abc import Iterator, Sequence
from pathlib import Path

from drivers.keys.keyboard import Keyboard

SHIFT, ENTER, F13, KEYPAD_7 = 42, 28, 183, 71
_WHERE = {
    **{digit: 2 + place for place, digit in enumerate("1234567890")},
    "-": 12,
    "=": 13,
    "\t": 15,
    "\n": 28,
    " ": 57,
    ",": 51,
    ".": 52,
    "/": 53,
    **dict(zip("qwertyuiop", range(16, 26), strict=True)),
    **dict(zip("asdfghjkl", range(30, 39), strict=True)),
    **dict(zip("zxcvbnm", range(44, 51), strict=True)),
}


def event(kind: int, code: int, value: int, micros: int = 0) -> bytes:
    """One event of a 64-bit system."""
    seconds, rest = divmod(micros, 1_000_000)
    return struct.pack("=qqHHi", seconds, rest, kind, code, value)


REPORT = event(0, 0, 0)
DROPPED = event(0, 3, 0)


def change(code: int, value: int, micros: int = 0) -> bytes:
    """A key goes down (1), up (0) or repeats (2): its scan code, itself, and the report."""
    return event(4, 4, 0x70000 + code, micros) + event(1, code, value, micros) + REPORT


def tap(code: int, micros: int = 0) -> bytes:
    """A key pressed and let go."""
    return change(code, 1, micros) + change(code, 0, micros + 9000)


def keys_of(text: str) -> list[tuple[int, bool]]:
    """(Key, whether shift is held) for each character."""
    return [
        (_WHERE[letter.lower()] if letter != "+" else 13, letter.isupper() or letter == "+")
        for letter in text
    ]


def typed(text: str) -> bytes:
    """The events of a text being typed."""
    return b"".join(
        change(SHIFT, 1) + tap(code) + change(SHIFT, 0) if shifted else tap(code)
        for code, shifted in keys_of(text)
    )


class Recorded(Keyboard):
    """A FIFO in place of an input device: it can be opened and read, and asked nothing, so what
    the system would answer is answered here."""

    def __init__(
        self, path: str, keys: Sequence[int] = range(1, 248), trouble: OSError | None = None
    ) -> None:
        super().__init__(path)
        self._keys = frozenset(keys)
        self._trouble = trouble
        self.grabbed = False
        self.closed = False

    def name(self) -> str:
        return "Invented Gauge Keyboard"

    def keys(self) -> frozenset[int]:
        return self._keys

    def grab(self) -> None:
        if self._trouble is not None:
            raise self._trouble
        self.grabbed = True

    def release(self) -> None:
        assert not self.closed
        self.grabbed = False

    def close(self) -> None:
        super().close()
        self.closed = True


class Node:
    """The writing end: what is put in is what keys do."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.opened: list[Recorded] = []
        self.keys: Sequence[int] = range(1, 248)
        self.trouble: OSError | None = None
        self._fd = -1
        self.plug_in()

    def plug_in(self) -> None:
        os.mkfifo(self.path)
        self._fd = os.open(self.path, os.O_RDWR | os.O_NONBLOCK)

    def unplug(self) -> None:
        """No more comes, and the node is gone."""
        if self._fd >= 0:
            os.close(self._fd)
            self.path.unlink()
        self._fd = -1

    def put(self, data: bytes) -> None:
        assert os.write(self._fd, data) == len(data)

    def empty(self) -> bool:
        """Whether all that was put in has been read."""
        return not select.select([self._fd], [], [], 0)[0]

    def open(self, path: str) -> Keyboard:
        """Opens the FIFO, whatever input device was asked for."""
        found = Recorded(str(self.path), self.keys, self.trouble)
        self.opened.append(found)
        return found


@contextlib.contextmanager
def node(folder: Path, name: str = "event7") -> Iterator[Node]:
    """A node for one test."""
    made = Node(folder / name)
    try:
        yield made
    finally:
        made.unplug()
