"""A serial line at the level of its bits, so that wrong settings give what a real line gives.

One character on the line, least significant bit first, idle high::

    ──┐     ┌──┬──┬──┬──┬──┬──┬──┬──┬──┬─────
      │start│b0│b1│b2│b3│b4│b5│b6│b7│ p│ stop
      └─────┴──┴──┴──┴──┴──┴──┴──┴──┴──┘

The sender makes levels at its own bit time. The receiver knows only the levels: it looks sixteen
times a bit for a falling edge, checks the middle of the start bit, takes each further bit in its
middle, and looks for the next edge from the middle of the first stop bit, as the common UART
chips do (common practice, from memory of their data sheets). If the two agree on speed and form,
the bytes come out; if not, what comes out follows from the levels and from nothing else.
"""

from __future__ import annotations

import bisect
import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum

OVERSAMPLING = 16
PARITIES = ("none", "even", "odd", "mark", "space")


@dataclass(frozen=True, slots=True)
class LineSettings:
    """Speed and form of characters. ValueError names what cannot be."""

    baud: float = 9600
    data_bits: int = 8
    parity: str = "none"
    stop_bits: float = 1

    def __post_init__(self) -> None:
        if self.baud <= 0:
            raise ValueError(f"baud must be above 0, not {self.baud}.")
        if self.data_bits not in (5, 6, 7, 8):
            raise ValueError(f"data_bits must be 5, 6, 7 or 8, not {self.data_bits}.")
        if self.parity not in PARITIES:
            raise ValueError(f"parity must be one of {', '.join(PARITIES)}, not {self.parity!r}.")
        if self.stop_bits not in (1, 1.5, 2):
            raise ValueError(f"stop_bits must be 1, 1.5 or 2, not {self.stop_bits}.")

    @property
    def bit(self) -> float:
        """Seconds that one bit takes."""
        return 1 / self.baud

    @property
    def character(self) -> float:
        """Seconds from one start bit to the next when sending without a pause."""
        return (1 + self.data_bits + (self.parity != "none") + self.stop_bits) * self.bit


class Line:
    """Levels over time: high (idle) at first and at last, with the edges between."""

    def __init__(self) -> None:
        self._times: list[float] = []
        self._levels: list[int] = []

    @property
    def end(self) -> float:
        """Seconds of the last edge."""
        return self._times[-1] if self._times else 0.0

    def hold(self, level: int, since: float) -> None:
        """From ``since`` (not before the last edge) the line is at ``level``."""
        if level != (self._levels[-1] if self._levels else 1):
            self._times.append(since)
            self._levels.append(level)

    def level(self, at: float) -> int:
        place = bisect.bisect_right(self._times, at)
        return self._levels[place - 1] if place else 1

    def next_falling(self, at: float) -> float | None:
        """When the line next goes low, at or after ``at``; None if never again."""
        for place in range(bisect.bisect_left(self._times, at), len(self._times)):
            if self._levels[place] == 0:
                return self._times[place]
        return None

    def edges(self) -> list[tuple[float, int]]:
        """Every edge: when, and the level from then on."""
        return list(zip(self._times, self._levels, strict=True))


@dataclass(frozen=True, slots=True)
class Character:
    """What a receiver made of one start bit."""

    value: int
    parity_error: bool = False
    framing_error: bool = False
    """No stop bit where one should be."""
    at: float = 0.0
    """Seconds at which it was complete."""

    @property
    def is_break(self) -> bool:
        """Low throughout: not a character at all."""
        return self.framing_error and self.value == 0


def parity_bit(value: int, parity: str) -> int:
    """The bit that goes with ``value``: even makes the number of ones even, with it."""
    ones = value.bit_count() & 1
    return {"even": ones, "odd": 1 - ones, "mark": 1, "space": 0}[parity]


def transmit(data: bytes, sender: LineSettings, pause: float = 0.0) -> Line:
    """The line while ``data`` goes out, ``pause`` seconds between characters.

    Of each byte only the low ``data_bits`` bits are sent.
    """
    line = Line()
    start = sender.bit  # one idle bit first
    for byte in data:
        value = byte & ((1 << sender.data_bits) - 1)
        bits = [0, *(value >> place & 1 for place in range(sender.data_bits))]
        if sender.parity != "none":
            bits.append(parity_bit(value, sender.parity))
        for place, level in enumerate(bits):
            line.hold(level, start + place * sender.bit)
        line.hold(1, start + len(bits) * sender.bit)
        start += sender.character + pause
    return line


def receive(line: Line, receiver: LineSettings) -> list[Character]:
    """Every character a receiver with these settings makes of the line, in order."""
    found: list[Character] = []
    tick = receiver.bit / OVERSAMPLING
    at = 0.0
    while (edge := line.next_falling(at)) is not None:
        # The edge is seen at the receiver's own next look, up to a sixteenth of a bit late.
        seen = math.ceil(edge / tick) * tick
        middle = seen + OVERSAMPLING // 2 * tick
        if line.level(middle):
            at = middle  # a spike, not a start bit
            continue
        character, at = _sample(line, receiver, middle)
        found.append(character)
    return found


def _sample(line: Line, receiver: LineSettings, middle: float) -> tuple[Character, float]:
    """One character whose start bit has its middle at ``middle``, and when to look again."""
    at = middle
    value = 0
    for place in range(receiver.data_bits):
        at += receiver.bit
        value |= line.level(at) << place
    parity_error = False
    if receiver.parity != "none":
        at += receiver.bit
        parity_error = line.level(at) != parity_bit(value, receiver.parity)
    at += receiver.bit
    return Character(value, parity_error, not line.level(at), at), at


class OnError(Enum):
    """What the host does with a character that came with an error."""

    KEEP = "keep"
    """Passes its bits on unmarked: what a terminal driver does unless asked (from memory)."""
    DROP = "drop"
    NUL = "nul"
    """Passes a zero byte instead."""


def delivered(characters: Iterable[Character], on_error: OnError = OnError.KEEP) -> bytes:
    """The bytes a program reads. A break is a zero byte, unless errors are dropped."""
    out = bytearray()
    for each in characters:
        wrong = each.parity_error or each.framing_error
        if not wrong or on_error is OnError.KEEP:
            out.append(each.value)
        elif on_error is OnError.NUL:
            out.append(0)
    return bytes(out)


def across(
    data: bytes,
    sender: LineSettings,
    receiver: LineSettings,
    on_error: OnError = OnError.KEEP,
) -> bytes:
    """The bytes that arrive when ``data`` is sent and received with these settings."""
    return delivered(receive(transmit(data, sender), receiver), on_error)
