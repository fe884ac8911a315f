"""Problems found while a spec is read: noted by key path, given lines only if there are any."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from capture.errors import Problem
from capture.spec.lines import Path, line_of, lines

_SHOWN = 40
_BARE = re.compile(r"[A-Za-z0-9_-]{1,64}")
_LISTED = 1000
_COMPARED = 200
_GUESSES = 100
"""Looking for the nearest word is slow; a file with thousands of wrong ones must not hang."""


def shown(value: object) -> str:
    """``value`` as a message quotes it: short, on one line, never failing."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        end = "…" if len(value) > _SHOWN else ""
        return json.dumps(value[:_SHOWN] + end, ensure_ascii=False)
    if isinstance(value, int):
        return str(value) if abs(value) < 10**_SHOWN else "a very large number"
    if isinstance(value, list):
        return "an array"
    if isinstance(value, dict):
        return "a table"
    return str(value)[:_SHOWN]


def choose(known: Sequence[str], limit: int = 12, joint: str = "or") -> str:
    """``known`` as a list in words: ``a, b or c``; the first ``limit`` where they are many."""
    if not known:
        return "nothing yet"
    if len(known) > limit:
        return ", ".join(known[:limit]) + "…"
    return f" {joint} ".join(filter(None, (", ".join(known[:-1]), known[-1])))


def _cut(found: list[Problem], file: str) -> list[Problem]:
    """The first thousand of ``found``, and how many there are beyond."""
    if len(found) <= _LISTED:
        return found
    rest = f"there are {len(found) - _LISTED} more mistakes."
    listed = found[:_LISTED]
    return [*listed, Problem(file, listed[-1].line, "the file", rest, "mend these first.")]


class _Note(NamedTuple):
    path: Path
    message: str
    mend: str
    first: Path | None


class Problems:
    """Collects problems in the document ``document``; quick when there are none."""

    def __init__(self, document: Mapping[str, object]) -> None:
        self._document = document
        self._notes: list[_Note] = []
        self._guesses = 0

    def __len__(self) -> int:
        return len(self._notes)

    def add(self, path: Path, message: str, mend: str, first: Path | None = None) -> None:
        """Notes a problem at ``path``; ``first`` is another place whose line it should name."""
        self._notes.append(_Note(path, message, mend, first))

    def nearest(self, word: str, known: Sequence[str]) -> str | None:
        """The one of ``known`` that ``word`` was most likely meant to be, or None.

        Also None after the first hundred: whoever has that many to mend has found the habit.
        """
        from difflib import get_close_matches

        self._guesses += 1
        if self._guesses > _GUESSES:
            return None
        matches = get_close_matches(word[:80].lower(), known[:_COMPARED], n=1, cutoff=0.6)
        return matches[0] if matches else None

    def located(self, text: str, file: str) -> tuple[Problem, ...]:
        """Every problem with its line in ``text``, in the order of the file; a thousand at most."""
        if not self._notes:
            return ()
        where = lines(text)
        found = []
        for note in self._notes:
            message = note.message
            if note.first is not None:
                message = f"{message} (first on line {line_of(note.first, where)})"
            line = line_of(note.path, where)
            found.append(Problem(file, line, self._key(note.path), f"{message}.", f"{note.mend}."))
        found.sort(key=lambda problem: problem.line)
        return tuple(_cut(found, file))

    def _key(self, path: Path) -> str:
        """``characteristic[bore].unit``: ids where there are, else numbers from 1."""
        key = ""
        value: object = self._document
        for part in path:
            if isinstance(part, str):
                name = part if _BARE.fullmatch(part) else shown(part)
                key = f"{key}.{name}" if key else name
                value = value.get(part) if isinstance(value, Mapping) else None
                continue
            value = value[part] if isinstance(value, list) and part < len(value) else None
            id_ = value.get("id") if isinstance(value, Mapping) else None
            named = isinstance(id_, str) and _BARE.fullmatch(id_)
            key += f"[{id_ if named else part + 1}]"
        return key or "the file"
