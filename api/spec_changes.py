"""What one spec says otherwise than the one before it, line by line."""

from __future__ import annotations

from collections.abc import Iterator
from difflib import SequenceMatcher
from typing import Final, NamedTuple

MOST_COMPARED: Final = 5000
"""Lines of each; comparing longer ones may take minutes."""
MOST_SHOWN: Final = 400


class Change(NamedTuple):
    """One line that is gone, new, or stands beside such a one."""

    sign: str
    """``-`` gone, ``+`` new, a space for a line in both; ``…`` where lines are left out."""
    line: int
    """Its number: in the older text where it is gone, else in the newer; 0 for ``…``."""
    text: str


class Changes(NamedTuple):
    """The changes, and how many more there are than are shown."""

    lines: tuple[Change, ...]
    more: int


def changes(older: str, newer: str) -> Changes | None:
    """What changed, with a line before and behind each change; None for texts too long to be
    compared."""
    old, new = older.splitlines(), newer.splitlines()
    if max(len(old), len(new)) > MOST_COMPARED:
        return None
    found = tuple(_changes(old, new))
    return Changes(found[:MOST_SHOWN], max(0, len(found) - MOST_SHOWN))


def _changes(old: list[str], new: list[str]) -> Iterator[Change]:
    matcher = SequenceMatcher(None, old, new, autojunk=False)
    for number, group in enumerate(matcher.get_grouped_opcodes(1)):
        if number:
            yield Change("…", 0, "")
        for tag, old_from, old_to, new_from, new_to in group:
            if tag == "equal":
                for at in range(new_from, new_to):
                    yield Change(" ", at + 1, new[at])
                continue
            for at in range(old_from, old_to):
                yield Change("-", at + 1, old[at])
            for at in range(new_from, new_to):
                yield Change("+", at + 1, new[at])
