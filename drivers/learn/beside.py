"""What stands beside the number: signs and units as bits or bytes, counters, clocks, batteries."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

from drivers.learn.press import Press

_INITIALS = set(b"mMiIgGoOnNlLfFdD")
"""First letters of units."""
_SIGNS = ({0x00, 0xFF}, {0x2B, 0x2D}, {0x20, 0x2D}, {0x50, 0x4E})
"""Pairs of bytes that say plus and minus."""
_MARGIN = 2
"""Marks nearly as good as the best may be it too."""


class Mark(NamedTuple):
    """A byte that says one of two things: some of its bits differ between them."""

    at: int
    mask: int
    off: int
    """The masked byte while plus, or while in the first unit."""
    on: int
    clean: bool
    """Nothing else seems to be said in this byte, but sign and unit."""
    pure: bool = False
    """Nothing else at all."""

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
    spare: Mapping[int, int],
) -> list[Mark]:
    """The bytes that tell the messages that are ``on`` from those that are not (None: either),
    likeliest first. ``others`` are what else a byte may say at each press, ``spare`` the bits of
    used bytes that are free."""
    lit = [message for message, state in zip(messages, on, strict=True) if state is True]
    dark = [message for message, state in zip(messages, on, strict=True) if state is False]
    if not lit or not dark:
        return []
    found = []
    for at in range(min(map(len, messages))):
        if at in used and at not in spare:
            continue
        steady_on, steady_off = _steady(lit, at), _steady(dark, at)
        mask = steady_on & steady_off & (lit[0][at] ^ dark[0][at])
        free = spare[at] if at in used else 0xFF
        mask &= free
        if not mask:
            continue
        said: dict[object, set[int]] = {}
        for message, state, other in zip(messages, on, others, strict=True):
            if state is not None:
                said.setdefault((state, other is True), set()).add(
                    message[at] & spare.get(at, 0xFF)
                )
        clean = all(len(values) == 1 for values in said.values())
        pure = (steady_on & steady_off & free) == free
        found.append(Mark(at, mask, dark[0][at] & mask, lit[0][at] & mask, clean, pure))
    return likeliest(found, messages)


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


def likeliest(found: Sequence[Mark], messages: Sequence[bytes]) -> list[Mark]:
    """The marks that are as good as the best: a battery or a counter may change just when the
    sign or the unit does."""
    words = {mark.at for mark in found if mark.pure and _letters(messages, mark.at)}
    # of a word the first letter is enough
    found = [mark for mark in found if not (mark.at in words and mark.at - 1 in words)]
    scored = sorted(((_score(mark, messages), mark) for mark in found), key=lambda p: -p[0])
    if not scored:
        return []
    best, first = scored[0]
    sure = first.pure and not _slow(first, messages)
    return [mark for score, mark in scored if score >= best - _MARGIN and (mark.pure or not sure)]


def _letters(messages: Sequence[bytes], at: int) -> bool:
    return {message[at] for message in messages} <= _INITIALS


def _slow(mark: Mark, messages: Sequence[bytes]) -> bool:
    return is_drift(messages, mark.at) or _creeps(messages, mark.at)


def _score(mark: Mark, messages: Sequence[bytes]) -> int:
    """How much like a mark: a flag is one bit and rises, codes are few; what drifts steps by
    little and says many things."""
    said = {message[mark.at] for message in messages}
    score = 2 * mark.clean + 3 * mark.pure
    if mark.mask & (mark.mask - 1) == 0:
        score += 2 if mark.on > mark.off else 1
    if mark.pure and (said <= _INITIALS or said in _SIGNS):
        score += 2
    elif _slow(mark, messages):
        score -= 2
    return score - max(0, len(said) - 3)


def _creeps(messages: Sequence[bytes], at: int) -> bool:
    """Whether it only ever falls, by little: a battery."""
    steps = [(before[at] - after[at]) & 0xFF for before, after in pairwise(messages)]
    return any(steps) and all(step < 16 for step in steps)


def is_drift(messages: Sequence[bytes], at: int) -> bool:
    """Whether byte ``at`` only creeps down or up by one: a battery, a counter's high byte."""
    values = [message[at] for message in messages]
    steps = [(after - before) & 0xFF for before, after in pairwise(values)]
    return all(step in (0, 0xFF) for step in steps) or all(step in (0, 1) for step in steps)


def states(presses: Sequence[Press]) -> tuple[list[bool | None], list[bool | None]]:
    """Of each press: whether it was negative, whether the unit was switched (None: not known)."""
    negative: list[bool | None] = [None if press.sign == 0 else press.sign < 0 for press in presses]
    return negative, [press.switched is not None for press in presses]
