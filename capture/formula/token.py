"""The words of a formula: numbers, names and signs, each with its place."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final, NamedTuple

from capture.formula.problem import FormulaError

LONGEST: Final = 4_000
"""Characters of a formula."""
END: Final = ""
"""The token behind the last one."""

_SPACE: Final = re.compile(r"[ \t\r\n]*")
_NUMBER: Final = re.compile(r"[0-9]+(?:\.[0-9]+)?", re.ASCII)
_NAME: Final = re.compile(r"[A-Za-z][A-Za-z0-9_-]*")
_POINT: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]*")
"""Straight behind a bracket; the words of a point may begin with a digit."""
_SIGNS: Final = "+-*/^()[],"
_INSTEAD: Final = {
    "×": "*",
    "·": "*",
    "⋅": "*",
    "÷": "/",
    "\N{DIVISION SLASH}": "/",
    ":": "/",
    "−": "-",
    "–": "-",
    "—": "-",
    "π": "pi",
    "²": "^ 2",
    "³": "^ 3",
    "{": "(",
    "}": ")",
    ";": ",",
}
_MOST_DIGITS: Final = 40


class Token(NamedTuple):
    """``kind`` is ``number``, ``name`` or ``sign`` (the end is an empty sign)."""

    kind: str
    text: str
    at: int


def tokens(text: str) -> Iterator[Token]:
    """Every token of ``text``, and one behind the last. Raises FormulaError."""
    if len(text) > LONGEST:
        message = f"a formula has at most {LONGEST} characters; this one has {len(text)}"
        raise FormulaError(0, message, "split it: a formula may name other derived quantities")
    at = _behind_space(text, 0)
    in_brackets = False
    while at < len(text):
        token = _token(text, at, in_brackets=in_brackets)
        in_brackets = token.text == "["
        yield token
        at = _behind_space(text, at + len(token.text))
    yield Token("sign", END, len(text))


def _behind_space(text: str, at: int) -> int:
    match = _SPACE.match(text, at)
    return at if match is None else match.end()


def _token(text: str, at: int, *, in_brackets: bool) -> Token:
    if in_brackets and (point := _POINT.match(text, at)) is not None:
        return Token("name", point.group(), at)
    if text.startswith("**", at):
        raise FormulaError(at, '"**" is no sign here', "write ^ for a power")
    if (number := _NUMBER.match(text, at)) is not None:
        _check_number(text, number)
        return Token("number", number.group(), at)
    if (name := _NAME.match(text, at)) is not None:
        return Token("name", name.group(), at)
    if text[at] in _SIGNS:
        return Token("sign", text[at], at)
    raise _unknown(text, at)


def _check_number(text: str, number: re.Match[str]) -> None:
    """A number ends where something else begins: ``2bore`` and ``1.2.3`` are neither."""
    at, behind = number.start(), text[number.end() : number.end() + 1]
    written = number.group()
    if len(written) > _MOST_DIGITS:
        raise FormulaError(at, f"a number of {len(written)} digits", "write at most 40 digits")
    if behind == "." or (behind and (behind.isalnum() or behind == "_") and behind.isascii()):
        rest = re.compile(r"[A-Za-z0-9_.-]*").match(text, at)
        word = "" if rest is None else rest.group()[:40]
        mend = f"write {written} * … for a product; a name begins with a letter"
        raise FormulaError(at, f'"{word}" is neither a number nor a name', mend)


def _unknown(text: str, at: int) -> FormulaError:
    mark = text[at]
    if mark in _INSTEAD:
        return FormulaError(at, f'"{mark}" is no sign here', f"write {_INSTEAD[mark]}")
    if mark == "." and _NUMBER.match(text, at + 1):
        return FormulaError(at, "a number begins with a digit", "write 0 before the point")
    shown = mark if mark.isprintable() else f"character {ord(mark)}"
    signs = "numbers, names, + - * / ^ ( ) and [point]"
    return FormulaError(at, f'"{shown}" has no meaning in a formula', f"use {signs}")
