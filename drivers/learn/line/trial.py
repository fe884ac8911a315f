"""One press, heard at one setting."""

from __future__ import annotations

from typing import NamedTuple

from drivers.learn.line.setting import Setting


class Trial(NamedTuple):
    """What came from one press."""

    setting: Setting
    """How the port received it."""
    raw: bytes
    wrong: frozenset[int] | None = None
    """Which of the bytes came with an error of parity or stop bit; None where that is not told."""
    faults: bool | None = None
    """Whether any byte came with one; None where that is not told."""

    @property
    def faulty(self) -> bool:
        """Whether an error was told."""
        return bool(self.wrong) or bool(self.faults)


def marked(data: bytes) -> tuple[bytes, frozenset[int]]:
    """Bytes as a terminal gives them that marks errors, without its marks; and which were wrong.

    377 000 c is the byte c, received with an error of parity or stop bit; 377 377 is the byte 377
    (termios(3), POSIX: PARMRK with INPCK set and IGNPAR and ISTRIP not set).
    """
    raw, wrong = bytearray(), set()
    at = 0
    while at < len(data):
        byte = data[at]
        if byte == 0xFF and data[at + 1 : at + 2] == b"\x00" and at + 2 < len(data):
            wrong.add(len(raw))
            byte = data[at + 2]
            at += 2
        elif byte == 0xFF and data[at + 1 : at + 2] == b"\xff":
            at += 1
        raw.append(byte)
        at += 1
    return bytes(raw), frozenset(wrong)
