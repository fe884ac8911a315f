"""A message as pieces in a row, with a start, a check, an end, and what is done to every byte."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import NamedTuple

from simulators.formats.checks import Check
from simulators.formats.gauge import Shown
from simulators.formats.state import State

Write = Callable[[Shown, State], bytes]


class Piece(NamedTuple):
    """Part of a message."""

    write: Write
    says: str
    """What it is, for a person."""


def always(raw: bytes | str) -> Piece:
    """The same bytes every time."""
    made = raw if isinstance(raw, bytes) else raw.encode("latin-1")
    return Piece(lambda shown, state: made, f"{made!r}")


@dataclass(frozen=True, slots=True)
class Layout:
    """Everything about how a message is made."""

    pieces: tuple[Piece, ...]
    start: bytes = b""
    check: Check | None = None
    covers_start: bool = False
    before_check: bytes = b""
    """Stands between the body and the check, and is covered."""
    end: bytes = b""
    echo: bytes = b""
    """A request that comes back before the answer; no check covers it."""
    parity: str = ""
    """``even``, ``odd``, ``mark`` or nothing: the eighth bit of every byte."""

    def message(self, shown: Shown, state: State) -> bytes:
        """What one press sends."""
        body = b"".join(piece.write(shown, state) for piece in self.pieces) + self.before_check
        check = b""
        if self.check is not None:
            check = self.check.bytes_of(self.start + body if self.covers_start else body)
        return with_parity(self.echo + self.start + body + check + self.end, self.parity)

    def also(self, *pieces: Piece) -> Layout:
        """The same with ``pieces`` after the others."""
        return replace(self, pieces=(*self.pieces, *pieces))

    def __str__(self) -> str:
        parts = [f"echo {self.echo!r}"] if self.echo else []
        parts += [repr(self.start)] if self.start else []
        parts += [piece.says for piece in self.pieces]
        parts += [repr(self.before_check)] if self.before_check else []
        if self.check is not None:
            parts.append(f"check: {self.check}{', start too' if self.covers_start else ''}")
        parts.append(repr(self.end) if self.end else "no end mark")
        parts += [f"{self.parity} parity left in"] if self.parity else []
        return " · ".join(parts)


def with_parity(raw: bytes, parity: str) -> bytes:
    """Bytes of seven bits with the eighth as a serial line without parity checking hands it on."""
    if not parity:
        return raw
    if parity == "mark":
        return bytes(byte | 0x80 for byte in raw)
    odd = parity == "odd"
    return bytes(byte | ((byte.bit_count() & 1) ^ odd) << 7 for byte in raw)
