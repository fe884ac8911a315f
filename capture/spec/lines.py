"""Where in a TOML text each key stands: ``tomllib`` keeps no line numbers, a person needs them.

A light scanner over text that ``tomllib`` has already accepted. It never fails: what it does not
understand it skips to the next line, and the nearest known table then stands for the key.
Made only when there is something to report.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from collections.abc import Mapping

Path = tuple[str | int, ...]
"""``("characteristic", 2, "unit")``: keys, and indexes from 0 into arrays."""

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_STRING = re.compile(
    r'"""(?:[^"\\]|\\.|"(?!""))*"{3,5}'
    r"|'''(?:[^']|'(?!''))*'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*"'
    r"|'[^'\n]*'",
    re.DOTALL,
)
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]}\n#]+")
_DEEPEST = 50


def lines(text: str) -> dict[Path, int]:
    """The line, from 1, of every key, table header and array element in ``text``."""
    scanner = _Scanner(text)
    scanner.run()
    return scanner.found


def line_of(path: Path, found: Mapping[Path, int]) -> int:
    """The line of ``path``, or of the nearest table around it that has one; 1 if none has."""
    while path:
        line = found.get(path)
        if line is not None:
            return line
        path = path[:-1]
    return 1


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.found: dict[Path, int] = {}
        self._starts = [0, *(match.end() for match in re.finditer("\n", text))]
        self._last: dict[Path, int] = {}
        """Index of the last element of each array of tables."""

    def run(self) -> None:
        table: Path = ()
        while self._skip(_BLANK) < len(self.text):
            if self.text[self.at] == "[":
                table = self._header()
            else:
                self._pair(table, 0)
            self._rest_of_line()

    def _header(self) -> Path:
        line = self._line()
        repeated = self.text.startswith("[[", self.at)
        self.at += 2 if repeated else 1
        path: Path = ()
        keys = self._key()
        for position, key in enumerate(keys, 1):
            path = (*path, key)
            self.found.setdefault(path, line)
            if repeated and position == len(keys):
                self._last[path] = self._last.get(path, -1) + 1
            if path in self._last:
                path = (*path, self._last[path])
                self.found.setdefault(path, line)
        return path

    def _pair(self, table: Path, depth: int) -> None:
        line = self._line()
        path = table
        for key in self._key():
            path = (*path, key)
            self.found.setdefault(path, line)
        self._skip(_SPACE)
        if self._take("="):
            self._skip(_SPACE)
            self._value(path, depth)

    def _value(self, path: Path, depth: int) -> None:
        if depth > _DEEPEST:
            self.at = len(self.text)
        elif self._take("["):
            self._elements(path, depth)
        elif self._take("{"):
            self._pairs(path, depth)
        elif not self._match(_STRING):
            self._match(_SCALAR)

    def _elements(self, path: Path, depth: int) -> None:
        index = 0
        while self._skip(_BLANK) < len(self.text) and not self._take("]"):
            before = self.at
            self.found[(*path, index)] = self._line()
            self._value((*path, index), depth + 1)
            self._skip(_BLANK)
            self._take(",")
            index += 1
            if self.at == before:
                return

    def _pairs(self, path: Path, depth: int) -> None:
        while self._skip(_BLANK) < len(self.text) and not self._take("}"):
            before = self.at
            self._pair(path, depth + 1)
            self._skip(_BLANK)
            self._take(",")
            if self.at == before:
                return

    def _key(self) -> list[str]:
        """The parts of a dotted key."""
        parts: list[str] = []
        while True:
            self._skip(_SPACE)
            word = self._match(_BARE_KEY)
            quoted = "" if word else self._match(_STRING)
            if not word and not quoted:
                return parts
            parts.append(word or next(iter(tomllib.loads(f"{quoted} = 0"))))
            self._skip(_SPACE)
            if not self._take("."):
                return parts

    def _line(self) -> int:
        return bisect_right(self._starts, self.at)

    def _skip(self, pattern: re.Pattern[str]) -> int:
        self._match(pattern)
        return self.at

    def _match(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None:
            return ""
        self.at = match.end()
        return match.group()

    def _take(self, mark: str) -> bool:
        if self.text.startswith(mark, self.at):
            self.at += len(mark)
            return True
        return False

    def _rest_of_line(self) -> None:
        end = self.text.find("\n", self.at)
        self.at = len(self.text) if end < 0 else end + 1
