"""Check bytes: sum, exclusive or, cyclic redundancy check.

::

    frame   s0 s1 …  c0 c1 …  k0 k1  t0 …
                     ╰cover╯  check  what follows the check (a terminator)

A CRC is named by what defines it: width, polynomial, initial value, whether bits are reflected in
and out, and the final exclusive or (the parameters in common use since R. N. Williams, "A painless
guide to CRC error detection algorithms", 1993; from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache, reduce
from operator import xor
from typing import Literal


@dataclass(frozen=True, slots=True)
class Check:
    """Where a message's check stands and how it is made. Offsets count from the frame's end when
    negative."""

    kind: Literal["sum", "xor", "crc"]
    at: int
    """Where the check begins, counted from the frame's end: negative."""
    cover: tuple[int, int]
    """First byte covered and the one after the last; both may be negative."""
    width: int = 8
    """Bits."""
    written: Literal["bytes", "hex"] = "bytes"
    order: Literal["big", "little"] = "big"
    complement: Literal["none", "ones", "twos"] = "none"
    polynomial: int = 0
    initial: int = 0
    reflected: bool = False
    final_xor: int = 0
    mask: int = -1
    """The bits of the check that are sent; the others are 0."""
    _compute: Callable[[bytes], int] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        makers = {"sum": self._summer, "xor": self._xorer, "crc": self._crc}
        object.__setattr__(self, "_compute", makers[self.kind]())

    @property
    def size(self) -> int:
        """Bytes the check takes on the wire."""
        return self.width // (4 if self.written == "hex" else 8)

    def compute(self, covered: bytes) -> int:
        """The check of ``covered``."""
        mask = self.mask & (1 << self.width) - 1
        value = self._compute(covered)
        if self.complement == "ones":
            value = ~value
        elif self.complement == "twos":
            value = -value
        return value & mask

    def fault(self, frame: bytes) -> str | None:
        """What is wrong with the frame's check, for a person; None when it is right."""
        start, end = self.cover
        at = len(frame) + self.at
        if at < 0:
            return f"{len(frame)} bytes are too few to hold a check"
        sent = self._sent(frame[at : at + self.size])
        made = self.compute(frame[start:end])
        if sent == made:
            return None
        digits = self.width // 4
        said = "no hexadecimal number" if sent is None else f"{sent:0{digits}X}"
        return f"the check says {said}, its bytes make {made:0{digits}X}"

    def _sent(self, data: bytes) -> int | None:
        if self.written == "bytes":
            return int.from_bytes(data, self.order)
        # int() would also take signs, blanks and underscores
        if not all(byte in b"0123456789ABCDEFabcdef" for byte in data):
            return None
        return int(data, 16)

    def _summer(self) -> Callable[[bytes], int]:
        return sum

    def _xorer(self) -> Callable[[bytes], int]:
        step = self.width // 8

        def words(covered: bytes) -> int:
            parts = (covered[i : i + step] for i in range(0, len(covered), step))
            return reduce(xor, (int.from_bytes(part, self.order) for part in parts), 0)

        return words if step > 1 else lambda covered: reduce(xor, covered, 0)

    def _crc(self) -> Callable[[bytes], int]:
        table = crc_table(self.width, self.polynomial, self.reflected)
        mask = (1 << self.width) - 1
        initial, final = self.initial, self.final_xor
        if self.reflected:
            initial = _mirrored(initial, self.width)

            def low_bit_first(covered: bytes) -> int:
                register = initial
                for byte in covered:
                    register = (register >> 8) ^ table[(register ^ byte) & 0xFF]
                return register ^ final

            return low_bit_first
        shift = self.width - 8

        def high_bit_first(covered: bytes) -> int:
            register = initial
            for byte in covered:
                register = ((register << 8) & mask) ^ table[(register >> shift) ^ byte]
            return register ^ final

        return high_bit_first


@lru_cache(maxsize=32)
def crc_table(width: int, polynomial: int, reflected: bool) -> tuple[int, ...]:
    """What each of the 256 bytes adds to the register; ``width`` at least 8 bits."""
    mask, top = (1 << width) - 1, 1 << (width - 1)
    mirrored = _mirrored(polynomial, width)
    table = []
    for byte in range(256):
        register = byte if reflected else byte << (width - 8)
        for _ in range(8):
            if reflected:
                register = (register >> 1) ^ (mirrored if register & 1 else 0)
            else:
                register = ((register << 1) & mask) ^ (polynomial if register & top else 0)
        table.append(register)
    return tuple(table)


def _mirrored(value: int, width: int) -> int:
    """``value`` with its bits in the other order."""
    return int(format(value, f"0{width}b")[::-1], 2)
