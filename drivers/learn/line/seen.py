"""What a receiver with one setting makes of what was sent with another.

The line idles high. A character is a low start bit, its data bits, lowest first, a parity bit
where there is one, and one or two high stop bits. The receiver takes each bit in its middle,
counted from the falling edge of the start bit, and looks for the next edge from the middle of
the first stop bit on (common practice of serial chips, from memory of their data sheets).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from drivers.learn.line.setting import Form, Setting


class Seen(NamedTuple):
    """What one start edge gave."""

    value: int
    wrong: bool
    """Its parity is not as it should be, or its stop bit is low."""


def bits_of(byte: int, form: Form) -> list[int]:
    """The levels of one character, start and stop bits included."""
    value = byte & ((1 << form.data_bits) - 1)
    levels = [0, *(value >> place & 1 for place in range(form.data_bits))]
    if form.parity != "none":
        levels.append(parity_of(value, form))
    return levels + [1] * form.stop_bits


def parity_of(value: int, form: Form) -> int:
    """The parity bit that goes with ``value``."""
    ones = value.bit_count() & 1
    return ones if form.parity == "even" else 1 - ones


def as_seen_at(data: bytes, sender: Setting, receiver: Setting, pause: int = 0) -> list[Seen]:
    """What ``receiver`` makes of ``data``, sent with ``pause`` idle bits between characters."""
    levels = [1]
    for byte in data:
        levels += bits_of(byte, sender.form) + [1] * pause
    # one tick is 1 / (2 × both speeds) seconds: so both bits, and their halves, are whole ticks
    return _received(levels, 2 * receiver.baud, 2 * sender.baud, receiver.form)


def _received(levels: Sequence[int], sent: int, taken: int, form: Form) -> list[Seen]:
    """``sent``, ``taken``: ticks of a bit of the sender and of the receiver."""
    edges = [place * sent for place, pair in enumerate(pairwise(levels), 1) if pair == (1, 0)]

    def level(at: int) -> int:
        return levels[at // sent] if at // sent < len(levels) else 1

    found: list[Seen] = []
    at = 0
    for edge in edges:
        if edge < at:
            continue
        at = edge + taken // 2
        if level(at):
            continue  # a spike, no start bit
        value = 0
        for place in range(form.data_bits):
            at += taken
            value |= level(at) << place
        wrong = False
        if form.parity != "none":
            at += taken
            wrong = level(at) != parity_of(value, form)
        at += taken
        found.append(Seen(value, wrong or not level(at)))
    return found
