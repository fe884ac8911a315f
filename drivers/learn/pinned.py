"""Bytes that never changed: which of them a further message must have.

A byte that was the same at every press may say a unit, digits behind the point or a sign that
nobody has seen yet: a message in which it differs is refused, not misread. But a battery, or the
high bytes of a counter or a clock, change without meaning anything; what looks like one is let go.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

from drivers.learn.beside import Mark

_PERCENT = set(range(20, 101)) | set(range(129, 160))
_PERCENT -= {32, 64}
_LETTERS = set(b"mMiIgGoOnNdD")
"""First letters of units."""
_SLOW = {*range(1900, 4400), *range(175, 256)} - {*b"\xa5\xaa\xf0\xf5\xfa\xfe\xff"}
"""Millivolts of a battery, tenths of a degree of a room."""


class Pin(NamedTuple):
    """Bits of a byte that are as they always were."""

    at: int
    mask: int
    value: int


def pins(
    messages: Sequence[bytes],
    used: Collection[int],
    spare: Mapping[int, int],
    marks: Sequence[Mark],
    above: Sequence[int] = (),
) -> list[Pin]:
    """What every further message must have. ``used``: bytes of the number and the check,
    ``spare``: bits of these that are free, ``above``: bytes beside the number's highest, from
    there on, where it may grow into."""
    length = min(map(len, messages))
    marked = {mark.at for mark in marks}
    still = [len({message[at] for message in messages}) == 1 for at in range(length)]
    free = [at not in used and at not in marked for at in range(length)]
    loose = _loose(messages, still, free)
    for at in above:
        if not (still[at] and free[at] and messages[0][at] == 0):
            break
        loose.discard(at)
    found = []
    for at in range(length):
        if at in used and at not in spare:
            continue
        if at in marked or at in used:
            taken = ~spare[at] if at in used else 0
            for mark in marks:
                taken |= mark.mask if mark.at == at else 0
            mask = _steady(messages, at) & ~taken & 0xFF
            if mask:
                found.append(Pin(at, mask, messages[0][at] & mask))
        elif still[at] and at not in loose:
            found.append(Pin(at, 0xFF, messages[0][at]))
    return found


def _steady(messages: Sequence[bytes], at: int) -> int:
    changed = 0
    for message in messages:
        changed |= message[at] ^ messages[0][at]
    return ~changed & 0xFF


def _loose(messages: Sequence[bytes], still: Sequence[bool], free: Sequence[bool]) -> set[int]:
    """Still bytes that may change and mean nothing."""
    first = messages[0]
    found = {
        at
        for at in range(len(still))
        if still[at] and free[at] and first[at] in _PERCENT - _LETTERS
    }
    for at in range(len(still) - 1):
        if still[at] and still[at + 1] and free[at] and free[at + 1]:
            big, little = first[at] << 8 | first[at + 1], first[at + 1] << 8 | first[at]
            if not {big, little}.isdisjoint(_SLOW):
                found |= {at, at + 1}
    moving = [at for at in range(len(still)) if free[at] and not still[at]]
    for at in moving:
        rising = _one_way(messages, at)
        for step in (-1, 1):
            beside = at + step
            for _ in range(3):
                if not 0 <= beside < len(still) or not free[beside] or not still[beside]:
                    break
                if not rising and first[beside] not in (0, 0xFF):
                    break
                found.add(beside)
                beside += step
    return found


def _one_way(messages: Sequence[bytes], at: int) -> bool:
    """Whether it only goes up, round its end too, or only down: a counter, a clock, a battery."""
    steps = [(after[at] - before[at]) & 0xFF for before, after in pairwise(messages)]
    return all(step < 128 for step in steps) or all(step > 128 or not step for step in steps)
