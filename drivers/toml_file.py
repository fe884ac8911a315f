"""Reading a TOML file a user wrote, with every problem found at once and where it stands.

``tomllib`` tells no line numbers, so they are looked up in the text afterwards. That search only
serves messages: values always come from ``tomllib``.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal, InvalidOperation
from typing import Any, TypeVar

from capture.errors import Problem

T = TypeVar("T")

_HEADER = re.compile(r"\s*(\[\[?)([^\[\]]+)\]")
_COMMA = re.compile(r"=\s*\[?\s*([+-]?\d+),(\d+)\s*(?:#.*)?$")
_KEY = re.compile(r"""\s*((?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')(?:\s*\.\s*[A-Za-z0-9_"'-]+)*)\s*=""")
_ID = re.compile(r"[A-Za-z0-9_-]{1,64}")


class Lines:
    """Where keys stand in a TOML text."""

    def __init__(self, text: str) -> None:
        self._lines: dict[tuple[str, ...], int] = {}
        counts: dict[tuple[str, ...], int] = {}
        here: tuple[str, ...] = ()
        for number, line in enumerate(text.splitlines(), 1):
            if header := _HEADER.match(line):
                here = _parts(header[2])
                if header[1] == "[[":
                    self._lines.setdefault(here, number)
                    counts[here] = counts.get(here, -1) + 1
                    here = (*here, str(counts[here]))
                self._lines.setdefault(here, number)
            elif key := _KEY.match(line):
                self._lines.setdefault((*here, *_parts(key[1])), number)

    def of(self, path: tuple[str, ...]) -> int:
        """The line of ``path``, or of the table around it; 0 where neither is found."""
        for end in range(len(path), 0, -1):
            if path[:end] in self._lines:
                return self._lines[path[:end]]
        return 0


class Document:
    """One file: its text, and the problems found in it so far."""

    def __init__(self, text: str, file: str) -> None:
        self.file = file
        self.problems: list[Problem] = []
        self._lines = Lines(text)
        try:
            values = tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            values = {}
            where = re.search(r"at line (\d+)", str(error))
            line = int(where[1]) if where else len(text.splitlines())  # "at end of document"
            self.problems.append(_not_toml(file, text, line, error))
        self._values = values
        self.root = Table(self, values, ())

    def problem(self, path: tuple[str, ...], message: str, mend: str) -> None:
        """Notes something wrong at ``path``."""
        line = self._lines.of(path)
        self.problems.append(Problem(self.file, line, self._key(path), message, mend))

    def _key(self, path: tuple[str, ...]) -> str:
        """``instrument[bore-gauge-1].unit``: ids where there are, else numbers from 1."""
        key = ""
        value: object = self._values
        for part in path:
            if isinstance(value, list):
                value = value[int(part)]
                id_ = value.get("id") if isinstance(value, dict) else None
                named = isinstance(id_, str) and _ID.fullmatch(id_)
                key += f"[{id_ if named else int(part) + 1}]"
                continue
            value = value.get(part) if isinstance(value, dict) else None
            key = f"{key}.{part}" if key else part
        return key


class Table:
    """A table of the file, read key by key. What is wrong is noted and read as if it were not
    there, so that the rest is looked at too."""

    def __init__(
        self, document: Document, values: Mapping[str, Any], path: tuple[str, ...]
    ) -> None:
        self._document = document
        self._values = values
        self._asked: list[str] = []
        self.path = path

    def __contains__(self, key: str) -> bool:
        return key in self._values

    def keys(self) -> list[str]:
        """The keys of the table, in their order."""
        return list(self._values)

    def problem(self, key: str, message: str, mend: str) -> None:
        """Notes something wrong with ``key`` of this table (the table itself where empty)."""
        self._document.problem((*self.path, key) if key else self.path, message, mend)

    def text(self, key: str, default: T, mend: str = "write text in quotes.") -> str | T:
        value: str | T = self._get(key, default, lambda v: isinstance(v, str), "is not text", mend)
        return value

    def flag(self, key: str, default: bool) -> bool:
        mend = "write true or false, without quotes."
        value: bool = self._get(
            key, default, lambda v: isinstance(v, bool), "is not true or false", mend
        )
        return value

    def integer(self, key: str, default: T, low: int, high: int) -> int | T:
        value: int | T = self._get(
            key,
            default,
            lambda v: isinstance(v, int) and not isinstance(v, bool) and low <= v <= high,
            f"is no whole number from {low} to {high}",
            f"write a number from {low} to {high}, without quotes.",
        )
        return value

    def choice(self, key: str, default: Any, choices: Iterable[Any]) -> Any:
        """One of ``choices``."""
        names = ", ".join(map(str, choices))
        fits = set(choices)
        mend = f"write one of: {names}."
        return self._get(
            key, default, lambda v: _hashable(v) and v in fits, f"is none of {names}", mend
        )

    def decimal(self, key: str, default: T, low: str = "", above: str = "") -> Decimal | T:
        """A number in quotes, so that its digits stay as written; integers need no quotes."""
        value = self._values.get(key)
        mend = 'write it in quotes, like "0.001".'
        if value is None or isinstance(value, float | bool) or not isinstance(value, int | str):
            self._get(key, None, lambda _: False, "is no number in quotes", mend)
            return default
        self._asked.append(key)
        number = as_decimal(value)
        if number is None and isinstance(value, str) and "," in value:
            self.problem(key, *comma(value))
        elif number is None:
            self.problem(key, f"{value!r} is no number.", mend)
        elif low and number < Decimal(low):
            self.problem(key, f"{value} is less than {low}.", f"write a number from {low} on.")
        elif above and number <= Decimal(above):
            self.problem(key, f"{value} is not above {above}.", f"write a number above {above}.")
        else:
            return number
        return default

    def texts(self, key: str) -> dict[str, str]:
        """A table of words."""
        values: dict[str, Any] = self._get(
            key,
            {},
            lambda v: isinstance(v, dict) and all(isinstance(item, str) for item in v.values()),
            "is no table of words",
            f'write it like: {key} = {{ A = "word" }}.',
        )
        return values

    def items(self, key: str, default: list[Any], mend: str) -> list[Any]:
        value: list[Any] = self._get(
            key, default, lambda v: isinstance(v, list), "is no list", mend
        )
        return value

    def table(self, key: str) -> Table | None:
        """A table inside this one."""
        mend = f"write it like {key} = {{ … }}." if self.path else f"begin it with a line [{key}]."
        values = self._get(key, None, lambda v: isinstance(v, dict), "is no table", mend)
        return None if values is None else Table(self._document, values, (*self.path, key))

    def tables(self, key: str) -> list[Table]:
        """The tables of an array of tables."""
        found: list[dict[str, Any]] = self._get(
            key,
            [],
            lambda v: isinstance(v, list) and all(isinstance(item, dict) for item in v),
            "is no array of tables",
            f"begin each with a line [[{key}]].",
        )
        return [
            Table(self._document, values, (*self.path, key, str(number)))
            for number, values in enumerate(found)
        ]

    def required(self, *keys: str) -> None:
        """Notes each of ``keys`` that is missing."""
        for key in keys:
            if key not in self._values:
                self.problem(key, "is missing.", f"add a line {key} = … here.")

    def required_table(self, key: str, *, many: bool = False) -> None:
        """Notes the table ``key``, or the array of tables where ``many``, if it is missing."""
        if key not in self._values:
            header = f"[[{key}]]" if many else f"[{key}]"
            mend = f"add a line {header}, and what belongs to it below that."
            self.problem(key, "is missing.", mend)

    def raw(self, key: str) -> Any:
        """The value as it is, for the caller to judge."""
        self._asked.append(key)
        return self._values.get(key)

    def close(self) -> None:
        """Notes every key that nobody asked for."""
        for key in self._values:
            if key not in self._asked:
                near = difflib.get_close_matches(key, self._asked, 1)
                known = ", ".join(dict.fromkeys(self._asked))
                mend = f"did you mean {near[0]}?" if near else f"known here: {known}."
                self.problem(key, "means nothing here.", mend)

    def _get(
        self, key: str, default: T, fits: Callable[[Any], bool], wrong: str, mend: str
    ) -> Any | T:
        self._asked.append(key)
        value = self._values.get(key)
        if value is None:
            return default
        if fits(value):
            return value
        self.problem(key, f"{_shown(value)} {wrong}.", mend)
        return default


def as_decimal(value: object) -> Decimal | None:
    """A finite plain number, from text or an integer; None where it is none."""
    if isinstance(value, bool) or not isinstance(value, int | str):
        return None
    try:
        number = Decimal(value)
    except InvalidOperation:
        return None
    return number if number.is_finite() else None


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The one of ``known`` that ``word`` may be a mistyped form of."""
    near = all_near(word, known)
    return near[0] if near else None


def all_near(word: str, known: Iterable[str]) -> list[str]:
    """The three of ``known`` at most that ``word`` is like, the nearest first."""
    lower = {name.lower(): name for name in list(known)[:1000]}
    return [lower[name] for name in difflib.get_close_matches(word[:80].lower(), lower, 3)]


def comma(text: str) -> tuple[str, str]:
    """What is wrong with a number written with a comma, and the mend."""
    with_point = text.replace(",", ".")
    example = with_point if as_decimal(with_point) is not None else "0.001"
    return f"{text!r} has a comma in it.", f'write it with a point, like "{example}".'


def _not_toml(file: str, text: str, line: int, error: Exception) -> Problem:
    mend = "correct this line; what follows it was not looked at."
    there = text.splitlines()[line - 1] if 0 < line <= len(text.splitlines()) else ""
    if found := _COMMA.search(there):
        mend = f'write the number with a point, in quotes: "{found[1]}.{found[2]}".'
    return Problem(file, line, "syntax", f"this is not TOML: {error}.", mend)


def _parts(key: str) -> tuple[str, ...]:
    return tuple(part.strip().strip("\"'") for part in key.split("."))


def _shown(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "…"


def _hashable(value: object) -> bool:
    return isinstance(value, str | int | float) and not isinstance(value, bool)
