"""What stands beside the number: signs and units as bits or bytes, counters, clocks, batteries."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import pairwise
from typing import NamedTuple

from drivers.learn.press import Press


class Mark(NamedTuple):
    """A byte that says one of two things: some of its bits differ between them."""

    at: int
    mask: int
    off: int
    """The masked byte while plus, or while in the first unit."""
    on: int
    clean: bool
    """Nothing else seems to be said in this byte."""

    @property
    def bit(self) -> int | None:
        """The lowest bit that is set only while on; None where there is none."""
        rising = self.on & ~self.off
        return (rising & -rising).bit_length() - 1 if rising else None


def marks(
    messages: Sequence[bytes],
    on: Sequence[bool | None],
    others: Sequence[object],
    used: Collection[int],
) -> list[Mark]:
    """The bytes that tell the messages that are ``on`` from those that are not (None: either),
    cleanest first. ``others`` are what else a byte may say at each press."""
    lit = [message for message, state in zip(messages, on, strict=True) if state is True]
    dark = [message for message, state in zip(messages, on, strict=True) if state is False]
    if not lit or not dark:
        return []
    found = []
    for at in range(min(map(len, messages))):
        if at in used:
            continue
        steady_on, steady_off = _steady(lit, at), _steady(dark, at)
        mask = steady_on & steady_off & (lit[0][at] ^ dark[0][at])
        if not mask:
            continue
        said: dict[object, set[int]] = {}
        for message, state, other in zip(messages, on, others, strict=True):
            if state is not None:
                said.setdefault((state, other), set()).add(message[at])
        clean = all(len(values) == 1 for values in said.values())
        found.append(Mark(at, mask, dark[0][at] & mask, lit[0][at] & mask, clean))
    clean_ones = [mark for mark in found if mark.clean]
    return clean_ones or found


def _steady(messages: Sequence[bytes], at: int) -> int:
    """The bits of byte ``at`` that are the same in every message."""
    changed = 0
    for message in messages:
        changed |= message[at] ^ messages[0][at]
    return ~changed & 0xFF


def drifting(messages: Sequence[bytes], at: int) -> str | None:
    """What a byte that has nothing to do with the size looks like; None where it stays."""
    values = [message[at] for message in messages]
    steps = {(after - before) & 0xFF for before, after in pairwise(values)}
    if steps == {0}:
        return None
    if len(steps) == 1:
        return "a counter"
    if steps <= {0, 0xFF, 0xFE} and max(values) - min(values) < 20:
        return "falling slowly, like a battery"
    if steps <= {0, 1}:
        return "rising slowly, like the high byte of a counter or a clock"
    if all(0 < step < 128 for step in steps):
        return "always rising, like a clock"
    return "changing in a way that is not understood"


def is_drift(messages: Sequence[bytes], at: int) -> bool:
    """Whether byte ``at`` only creeps down or up by one: a battery, a counter's high byte."""
    values = [message[at] for message in messages]
    steps = [(after - before) & 0xFF for before, after in pairwise(values)]
    return all(step in (0, 0xFF) for step in steps) or all(step in (0, 1) for step in steps)


def states(presses: Sequence[Press]) -> tuple[list[bool | None], list[bool | None]]:
    """Of each press: whether it was negative, whether the unit was switched (None: not known)."""
    negative: list[bool | None] = [None if press.sign == 0 else press.sign < 0 for press in presses]
    return negative, [press.switched is not None for press in presses]
