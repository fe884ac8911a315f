"""One table of a spec file being read: typed values come out, problems are noted on the way.

A getter always returns a value of its type, a stand-in where the file's would not do; ``sound``
is then False and whoever reads the table makes nothing of it. So every problem is found in one
pass, and nothing is checked twice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from decimal import Decimal
from enum import StrEnum
from typing import TypeVar

from capture.spec import value as values
from capture.spec.lines import Path
from capture.spec.problems import Problems, choose, shown
from capture.spec.value import Unfit

T = TypeVar("T")
E = TypeVar("E", bound=StrEnum)


class Table:
    """The table ``content`` at ``path``; a key not among ``known`` is a problem at once."""

    def __init__(
        self, content: Mapping[str, object], path: Path, problems: Problems, known: Sequence[str]
    ) -> None:
        self.content = content
        self.path = path
        self.sound = True
        self._problems = problems
        self._meant: set[str] = set()
        """Keys that a misspelled one was meant to be: not missing on top."""
        self._wrong: set[str] = set()
        for key in content:
            if key not in known:
                self._unknown(key, known)

    def __contains__(self, key: str) -> bool:
        return key in self.content

    def fine(self, *keys: str) -> bool:
        """Whether ``keys`` were all read as they stand: what they say together may be judged,
        whatever is wrong with others."""
        return self._wrong.isdisjoint(keys) and self._meant.isdisjoint(keys)

    def problem(self, key: str, message: str, mend: str, first: Path | None = None) -> None:
        """Notes a problem with ``key`` (the table itself where empty)."""
        self.sound = False
        self._wrong.add(key)
        self._problems.add((*self.path, key) if key else self.path, message, mend, first)

    def text(self, key: str, default: str | None = None) -> str:
        return self._value(key, default, "", values.text)

    def nearest(self, word: str, known: Sequence[str]) -> str | None:
        """The one of ``known`` that ``word`` was most likely meant to be, or None."""
        return self._problems.nearest(word, known)

    def line(self, key: str, default: str | None = None) -> str:
        return self._value(key, default, "", values.line)

    def word(self, key: str, default: str | None = None) -> str:
        return self._value(key, default, "", values.word)

    def flag(self, key: str, default: bool) -> bool:
        return self._value(key, default, default, values.flag)

    def whole(self, key: str, default: int | None, least: int, most: int) -> int:
        return self._value(key, default, least, lambda value: values.whole(value, least, most))

    def number(self, key: str, default: Decimal | None = None) -> Decimal:
        return self._value(key, default, Decimal(0), values.decimal)

    def optional_number(self, key: str) -> Decimal | None:
        return self.number(key) if key in self.content else None

    def choice(self, key: str, kind: type[E], default: E | None = None) -> E:
        """One of the words of ``kind``."""
        words = [member.value for member in kind]

        def chosen(value: object) -> E:
            if value in words:
                return kind(str(value))
            guess = self.nearest(value, words) if isinstance(value, str) else None
            mend = f'write "{guess}"' if guess else f"write {choose(words)}"
            raise Unfit(f"{shown(value)} is not known here; known are {choose(words)}", mend)

        return self._value(key, default, next(iter(kind)), chosen)

    def texts(self, key: str) -> tuple[str, ...]:
        """An array of texts; none where the file is silent."""
        return self._array(key, values.text, '["…", "…"]')

    def words(self, key: str) -> tuple[str, ...]:
        """An array of words, each once; none where the file is silent."""
        found = self._array(key, values.word, '["one", "two"]')
        if len(set(found)) < len(found):
            twice = next(word for word in found if found.count(word) > 1)
            self.problem(key, f'"{twice}" stands twice', "write each word once")
        return found

    def wholes(self, key: str, least: int, most: int) -> tuple[int, ...]:
        """An array of whole numbers; none where the file is silent."""
        return self._array(key, lambda value: values.whole(value, least, most), "[1, 2]")

    def numbers(self, key: str) -> tuple[Decimal, ...]:
        """An array of decimals; none where the file is silent."""
        return self._array(key, values.decimal, '["20", "60", "100"]')

    def each(self, key: str, reader: Callable[[object], T], example: str) -> tuple[T, ...]:
        """An array of whatever ``reader`` makes of its elements (raising Unfit); none where the
        file is silent."""
        return self._array(key, reader, example)

    def table(self, key: str, known: Sequence[str]) -> Table | None:
        """The table at ``key``, or None where the file is silent."""
        content = self.content.get(key)
        if content is None:
            return None
        if not isinstance(content, dict):
            self.problem(key, f"{shown(content)} is not a table", f"write [{key}] above its keys")
            return None
        return Table(content, (*self.path, key), self._problems, known)

    def tables(self, key: str, known: Sequence[str]) -> Iterator[Table]:
        """Every table of the array of tables at ``key``."""
        name = ".".join([part for part in self.path if isinstance(part, str)] + [key])
        content = self.content.get(key, [])
        if not isinstance(content, list):
            self.problem(key, "this must be repeatable", f"write [[{name}]] in double brackets")
            return
        for index, one in enumerate(content):
            path = (*self.path, key, index)
            if isinstance(one, dict):
                yield Table(one, path, self._problems, known)
            else:
                self.sound = False
                self._problems.add(
                    path, f"{shown(one)} is not a table", f"write [[{name}]] above its keys"
                )

    def _value(self, key: str, default: T | None, stand_in: T, reader: Callable[[object], T]) -> T:
        if key not in self.content:
            if default is None and key not in self._meant:
                self.problem(key, f"{key} is missing", f"write {key} = … in this table")
            return stand_in if default is None else default
        try:
            return reader(self.content[key])
        except Unfit as unfit:
            self.problem(key, unfit.message, unfit.mend)
            return stand_in

    def _array(self, key: str, reader: Callable[[object], T], example: str) -> tuple[T, ...]:
        found = []
        try:
            elements = values.array(self.content.get(key, []), example)
        except Unfit as unfit:
            self.problem(key, unfit.message, unfit.mend)
            return ()
        for index, element in enumerate(elements):
            try:
                found.append(reader(element))
            except Unfit as unfit:
                self.sound = False
                self._wrong.add(key)
                path = (*self.path, key, index)
                self._problems.add(path, unfit.message, unfit.mend)
        return tuple(found)

    def _unknown(self, key: str, known: Sequence[str]) -> None:
        guess = self.nearest(key, known)
        self._meant.add(guess or key)
        mend = f"write {guess}" if guess else f"remove it; known here are {choose(known, 30)}"
        self.problem(key, f"the key {shown(key)} is not known here", mend)
