"""What the bytes of all presses have in common before anything is read: parity, ends, checks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from drivers.learn.checks import Way, find_check

_ENDS = b"\r\n"
_SHOWN = {*range(0x20, 0x7F), *b"\t\r\n\x02\x03\x01\x04\x05\x06\x00"}


@dataclass(frozen=True, slots=True)
class Seen:
    """The messages as they are to be read."""

    messages: tuple[bytes, ...]
    parity: str
    """``even``, ``odd``, ``mark`` where the eighth bit was only that and is taken off."""
    end: bytes
    """The carriage return and line feed that every message ends with; empty where none."""
    way: Way | None
    """The check."""

    @property
    def length(self) -> int | None:
        """Bytes of every message, where they are all as long."""
        lengths = {len(message) for message in self.messages}
        return lengths.pop() if len(lengths) == 1 else None

    @property
    def check_range(self) -> range:
        """The bytes of the check, in messages of one length."""
        if self.way is None or self.length is None:
            return range(0)
        at = self.length + self.way.check.at
        return range(at, at + self.way.check.size)

    @property
    def is_text(self) -> bool:
        """Whether all bytes but a check can be read as text."""
        check = self.way.check if self.way else None
        for message in self.messages:
            rest = message
            if check is not None:
                at = len(message) + check.at
                rest = message[:at] + message[at + check.size :]
            odd = sum(1 for byte in rest if byte not in _SHOWN and byte < 0xA0)
            if odd or sum(1 for byte in rest if 0x20 <= byte < 0x7F) < len(rest) / 2:
                return False
        return True

    @property
    def is_plain(self) -> bool:
        """Whether there is nothing but printed signs and the end: text beyond doubt."""
        bodies = (message[: len(message) - len(self.end)] for message in self.messages)
        return bool(self.end) and all(0x20 <= byte < 0x7F for body in bodies for byte in body)

    @property
    def edges(self) -> tuple[int, int]:
        """Bytes that are no part of the text, before and after it: its end, and its check where
        that stands last."""
        check = self.way.check if self.way else None
        tail = len(self.end)
        if check is not None and -check.at - check.size == tail:
            tail += check.size
        return 0, tail

    def texts(self) -> list[str]:
        """The text of every message; noughts that fill it up are blanks."""
        return [self.text(message) for message in self.messages]

    def text(self, message: bytes) -> str:
        """The text of one message."""
        head, tail = self.edges
        made = message[head : len(message) - tail].decode("latin-1")
        return made.replace("\0", " ") if self.padded else made

    @property
    def padded(self) -> bool:
        """Whether noughts stand among the text."""
        return any(0 in message for message in self.messages)


def seen(raws: Sequence[bytes]) -> list[Seen]:
    """The ways of taking the bytes: as they are, and with parity bits taken off."""
    found = [_seen(raws, "")]
    parity = parity_of(raws)
    if parity:
        bare = [bytes(byte & 0x7F for byte in raw) for raw in raws]
        stripped = _seen(bare, parity)
        if stripped.is_text:
            found.insert(0, stripped)
    return found


def _seen(raws: Sequence[bytes], parity: str) -> Seen:
    end = b""
    while all(len(raw) > len(end) + 1 for raw in raws):
        one = raws[0][len(raws[0]) - len(end) - 1 : len(raws[0]) - len(end)]
        if one not in (b"\r", b"\n") or not all(raw.endswith(one + end) for raw in raws):
            break
        end = one + end
    return Seen(tuple(raws), parity, end, find_check(raws))


def parity_of(raws: Sequence[bytes]) -> str:
    """What the eighth bit of every byte says, if it is nothing but parity."""
    data = b"".join(raws)
    if all(byte & 0x80 for byte in data):
        return "mark"
    if not any(byte & 0x80 for byte in data):
        return ""
    if all(byte.bit_count() % 2 == 0 for byte in data):
        return "even"
    if all(byte.bit_count() % 2 == 1 for byte in data):
        return "odd"
    return ""
