"""Check bytes: sums, exclusive or, complements, and cyclic redundancy checks in common use.

A CRC is given by width, polynomial, initial value, reflection and final exclusive or (R. N.
Williams, "A painless guide to CRC error detection algorithms", 1993; from memory, and checked
against Python's binascii and zlib where those have the same one).
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from functools import reduce
from operator import xor
from typing import Final, Literal

Order = Literal["big", "little"]


@dataclass(frozen=True, slots=True)
class Check:
    """How a check is computed and written."""

    name: str
    size: int
    """Bytes."""
    compute: Callable[[bytes], int]
    order: Order = "big"
    written: Literal["bytes", "HEX", "hex"] = "bytes"

    def bytes_of(self, covered: bytes) -> bytes:
        """The check as it stands on the wire."""
        raw = self.compute(covered).to_bytes(self.size, self.order)
        if self.written == "bytes":
            return raw
        text = raw.hex()
        return (text.upper() if self.written == "HEX" else text).encode()

    def __str__(self) -> str:
        order = f", {self.order} end first" if self.size > 1 else ""
        return f"{self.name}{order}, as {self.written}"


def crc(
    width: int, polynomial: int, initial: int, reflected: bool, final: int
) -> Callable[[bytes], int]:
    """A CRC, bit by bit."""
    mask, top = (1 << width) - 1, 1 << (width - 1)

    def compute(covered: bytes) -> int:
        register = initial
        for byte in covered:
            register ^= (_mirror(byte, 8) if reflected else byte) << (width - 8)
            for _ in range(8):
                register = (register << 1) ^ (polynomial if register & top else 0)
                register &= mask
        return (_mirror(register, width) if reflected else register) ^ final

    return compute


def _mirror(number: int, width: int) -> int:
    return int(format(number, f"0{width}b")[::-1], 2)


def _xor(covered: bytes) -> int:
    return reduce(xor, covered, 0)


CHECKS: Final[dict[str, tuple[int, Callable[[bytes], int]]]] = {
    "sum": (1, lambda covered: sum(covered) & 0xFF),
    "sum, complement": (1, lambda covered: ~sum(covered) & 0xFF),
    "sum, negative": (1, lambda covered: -sum(covered) & 0xFF),
    "sum, 7 bits": (1, lambda covered: sum(covered) & 0x7F),
    "xor": (1, _xor),
    "xor, complement": (1, lambda covered: _xor(covered) ^ 0xFF),
    "sum, 16 bits": (2, lambda covered: sum(covered) & 0xFFFF),
    "crc-8": (1, crc(8, 0x07, 0, False, 0)),
    "crc-8, reflected 0x31": (1, crc(8, 0x31, 0, True, 0)),
    "crc-16, 0x1021 from 0": (2, crc(16, 0x1021, 0, False, 0)),
    "crc-16, 0x1021 from 0xFFFF": (2, crc(16, 0x1021, 0xFFFF, False, 0)),
    "crc-16, reflected 0x8005 from 0": (2, crc(16, 0x8005, 0, True, 0)),
    "crc-16, reflected 0x8005 from 0xFFFF": (2, crc(16, 0x8005, 0xFFFF, True, 0)),
    "crc-32": (4, crc(32, 0x04C11DB7, 0xFFFFFFFF, True, 0xFFFFFFFF)),
}
"""Name → size in bytes, function."""


def make_check(name: str, order: Order, written: Literal["bytes", "HEX", "hex"]) -> Check:
    """The named check (one of ``CHECKS``)."""
    size, compute = CHECKS[name]
    return Check(name, size, compute, order, written)


def draw_check(drawn: random.Random, text: bool) -> Check:
    """Any of them; beside ``text`` it is mostly written in hex digits."""
    name = drawn.choice(list(CHECKS))
    order: Order = drawn.choice(["big", "little"])
    if text and drawn.random() < 0.8:
        return make_check(name, "big", drawn.choice(["HEX", "HEX", "hex"]))
    return make_check(name, order, "bytes")
