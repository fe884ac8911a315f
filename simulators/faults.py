"""Fault knobs: what goes wrong between a press and the wire.

A press leaves as *chunks*: bytes to write, and seconds to wait before the next. Faults of the
line change the chunks and leave the message whole (noise, split, merge, repeat, stall); a vanished
port is a fault of the cable; a wrong unit and a wrong cylinder are faults of the hand, and change
what is sent. All are drawn from the lot, so that a run can be had again.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import NamedTuple

SPLIT_SECONDS = 0.02
STALL_SECONDS = 1.5


class Chunk(NamedTuple):
    """Bytes to write at once, and how long nothing follows."""

    data: bytes
    pause: float = 0.0


def whole(*messages: bytes) -> list[Chunk]:
    """Every message in a write of its own."""
    return [Chunk(message) for message in messages]


def merged(*messages: bytes) -> list[Chunk]:
    """All in one write, as a receiver that was busy hands them on."""
    return [Chunk(b"".join(messages))]


def split(message: bytes, pause: float = SPLIT_SECONDS) -> list[Chunk]:
    """In two halves with a pause between."""
    middle = max(1, len(message) // 2)
    return [Chunk(message[:middle], pause), Chunk(message[middle:])]


def stalled(message: bytes, pause: float = STALL_SECONDS) -> list[Chunk]:
    """Half, then so long nothing that a reader may give the message up, then the rest."""
    return split(message, pause)


def repeated(message: bytes) -> list[Chunk]:
    """Twice, as a bouncing button sends it."""
    return whole(message, message)


@dataclass(frozen=True, slots=True)
class Knobs:
    """How likely each fault is at a press, 0 to 1."""

    noise: float = 0.0
    split: float = 0.0
    merge: float = 0.0
    repeat: float = 0.0
    stall: float = 0.0
    vanish: float = 0.0
    wrong_unit: float = 0.0
    wrong_cylinder: float = 0.0

    def __post_init__(self) -> None:
        for name, chance in asdict(self).items():
            if not 0 <= chance <= 1:
                raise ValueError(f"{name} is a chance from 0 to 1, not {chance}.")


class Faults:
    """Draws faults for one press after another, and shapes what goes on the wire."""

    def __init__(self, knobs: Knobs, lot: str = "") -> None:
        self._chances = asdict(knobs)
        self._random = random.Random(f"{lot}/faults")
        self._held: list[bytes] = []

    def draw(self) -> frozenset[str]:
        """The names of the faults of the next press; usually none."""
        return frozenset(
            name for name, chance in self._chances.items() if self._random.random() < chance
        )

    def chunks(
        self, messages: Sequence[bytes], faults: frozenset[str], noise: bytes
    ) -> list[Chunk]:
        """What to write for these whole messages; ``noise`` is put before them where it is due.

        A merged press is held back and goes out with the next one; ``flush`` sends what is left.
        """
        if "repeat" in faults:
            messages = [*messages, *messages[-1:]]
        if "merge" in faults:
            self._held += messages
            return []
        held, self._held = self._held, []
        out = [Chunk(noise)] if "noise" in faults else []
        if held:
            return out + merged(*held, *messages)
        for message in messages:
            if "stall" in faults:
                out += stalled(message)
            elif "split" in faults:
                out += split(message)
            else:
                out += whole(message)
        return out

    def flush(self) -> list[Chunk]:
        """What a merge still holds back."""
        held, self._held = self._held, []
        return merged(*held) if held else []
