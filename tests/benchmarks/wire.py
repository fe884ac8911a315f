"""The lines that the benchmarks send: 16 bytes each, all conforming, none like the one before.

``   +86.0050 mm`` CR LF; the spec of ``flood_spec`` allows 86.000 to 86.025 mm, so that even with a
guard band every value conforms, and 97 different values follow one another, so that no press is
taken for a repeat of the last.
"""

from __future__ import annotations

LOWER = "86.000"
UPPER = "86.025"
_VALUES = 97


def line(number: int) -> bytes:
    """The line of press ``number``."""
    return b"   +86.%04d mm\r\n" % (80 + number % _VALUES)


CYCLE = b"".join(line(number) for number in range(_VALUES))
LINE_BYTES = len(line(0))


def lines(first: int, count: int) -> bytes:
    """Lines ``first`` to ``first + count`` in one piece."""
    start = first % _VALUES * LINE_BYTES
    size = count * LINE_BYTES
    whole = CYCLE * (-(-(start + size) // len(CYCLE)))
    return whole[start : start + size]
