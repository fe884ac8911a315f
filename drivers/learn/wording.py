"""What stands around a number in text, made into a pattern: fixed text, signs, units, the rest.

The strings that stand at one place in every message are cut into words, blanks and single signs;
at each of these it is asked whether it is always the same, follows the sign of the size, follows
the unit, or neither.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

from capture.errors import UnitError
from capture.quantity import unit_name

_FILLED = r"(?P<fill>[.*_=#~-])(?P=fill){2,}"
"""One sign again and again fills a line."""
_TOKEN = re.compile(rf"(?:{_FILLED})|[A-Za-z\x80-\xff]+|[ \t]+|[0-9]+|.", re.DOTALL)
_COARSE = (
    _TOKEN,
    re.compile(r"[A-Za-z0-9\x80-\xff]+|[ \t]+|.", re.DOTALL),
    re.compile(r"[^ \t,;:0-9\x00-\x1f]+|[ \t]+|[0-9]+|.", re.DOTALL),
    re.compile(r"[^ \t,;:\x00-\x1f]+|[ \t]+|.", re.DOTALL),
)
"""Ways of cutting, tried in turn after those that keep signs with their numbers."""


@lru_cache(maxsize=8)
def _numbered(mark: str, powers: bool) -> tuple[re.Pattern[str], ...]:
    """Ways of cutting that keep numbers whole: signs at them, words of any letters, signs apart or
    behind."""
    number = rf"[0-9]+(?:[{mark}][0-9]+)?" + (r"(?:[eE][+-]?[0-9]+)?" if powers else "")
    word = r"[^ \t,;:|/0-9\x00-\x1f+-]+(?:-[A-Za-z]+)*"
    bare = r"[^ \t,;:|/0-9\x00-\x1f()+-]+(?:-[A-Za-z]+)*"
    apart = rf"[ \t]*[(+-]?[ \t]*{number}[)+-]?"
    ways = (
        rf"(?:{_FILLED})|[A-Za-z\x80-\xff]+|[ \t]+|[+-]?{number}|.",
        rf"(?:{_FILLED})|{word}|[ \t]+|[+-]?{number}|.",
        rf"(?:{_FILLED})|{bare}|{apart}|[ \t]+|.",
        rf"(?:{_FILLED})|[A-Za-z\x80-\xff]+|{apart}|[ \t]+|.",
    )
    return tuple(re.compile(way, re.DOTALL) for way in ways)


def _cut(token: re.Pattern[str], text: str) -> list[str]:
    return [found[0] for found in token.finditer(text)]


_NUMBER = re.compile(r"[+-]?[0-9]+(?:[.,][0-9]+)?(?:[eE][+-]?[0-9]+)?\Z")


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of the pattern."""

    kind: Literal[
        "text", "blank", "sign", "number", "unit", "skip", "digits", "other", "word", "close"
    ]
    text: str = ""
    width: int | None = None
    """Bytes, where it is always as many."""
    optional: bool = False
    """A sign that may be missing; of ``digits`` in a row with letters: both are its figures."""
    words: frozenset[str] = frozenset()
    """Of a unit that changed: its words."""


@dataclass(slots=True)
class Wording:
    """The pieces of one stretch, and what its words mean."""

    pieces: list[Piece]
    minus: set[str]
    plus: set[str]
    units: dict[str, bool]
    """The word → whether it stands for the switched unit."""
    odd: int = 0
    """Places that change for no known reason."""
    turned: set[str] = field(default_factory=set)
    """The words that changed with the unit."""


States = Sequence[tuple[bool | None, bool]]
"""Of each message: negative (None: either), switched."""


def wording(
    strings: Sequence[str], states: States, mark: str = ".", powers: bool = False
) -> Wording | None:
    """The pattern of ``strings``; None where they have no common shape. ``mark``: the decimal
    mark of numbers; ``powers``: whether they have exponents."""
    if len(set(strings)) == 1:
        return _constant(strings[0])
    for token in (*_numbered(mark or ".", powers), *_COARSE):
        rows = _evened([_cut(token, text) for text in strings])
        if len({len(row) for row in rows}) > 1:
            rows = _with_sign(rows, states)
        if len({len(row) for row in rows}) == 1:
            return _columns(list(zip(*rows, strict=True)), states)
    return _by_unit(strings, states)


def _with_sign(rows: list[list[str]], states: States) -> list[list[str]]:
    """Rows with a place for a sign that only negative ones have."""
    lost = [row for row, state in zip(rows, states, strict=True) if state[0]]
    kept = [row for row, state in zip(rows, states, strict=True) if state[0] is False]
    if not lost or not kept or len({len(row) for row in lost}) > 1:
        return rows
    length = len(lost[0])
    if any(len(row) not in (length, length - 1) for row in rows) or any(
        len(row) == length for row in kept
    ):
        return rows
    for at in range(length):
        signs = {row[at] for row in lost}
        if len(signs) == 1 and len(sign := signs.pop()) == 1 and not sign.isspace():
            if sign.isdigit():
                continue
            made = [row if len(row) == length else [*row[:at], "", *row[at:]] for row in rows]
            others = [index for index in range(length) if index != at]
            if all(_alike(made[0][i], row[i]) for row in made for i in others):
                return made
    return rows


def _alike(one: str, two: str) -> bool:
    """Whether two words can stand in one column: the same, or both numbers, or both letters."""
    return one == two or one[:1].isalnum() == two[:1].isalnum()


def _constant(text: str) -> Wording:
    made = Wording([], set(), set(), {})
    for token in _cut(_TOKEN, text):
        if len(token) > 2 and len(set(token)) == 1 and not token.isalnum() and token.strip():
            made.pieces.append(Piece("skip"))
        elif token.isspace() and token.strip(" \t") == "":
            made.pieces.append(Piece("blank", width=len(token)))
        elif token.isascii() and token.isdigit():
            made.pieces.append(Piece("digits", token, len(token)))
        elif is_unit(token):
            made.pieces.append(Piece("unit", token, len(token)))
            made.units[token] = False
        else:
            made.pieces.append(Piece("text", token, len(token)))
    return made


def is_unit(word: str) -> bool:
    """Whether we know the word as a unit."""
    try:
        unit_name(word)
    except UnitError:
        return False
    return True


def _evened(rows: list[list[str]]) -> list[list[str]]:
    """Rows with a place for blanks between any two words where some row has blanks."""
    if len({len(row) for row in rows}) == 1:
        return rows
    bare = [[token for token in row if token.strip(" \t")] for row in rows]
    if len({len(row) for row in bare}) > 1:
        return rows
    return [[" ", *(part for token in row for part in (token, " "))] for row in bare]


def _columns(columns: list[tuple[str, ...]], states: States) -> Wording | None:
    made = Wording([], set(), set(), {})
    for values in columns:
        widths = {len(value) for value in values}
        width = widths.pop() if len(widths) == 1 else None
        if len(set(values)) == 1:
            one = _constant(values[0])
            made.pieces += one.pieces
            made.units = one.units | made.units
        elif all(not value.strip(" \t") for value in values):
            made.pieces.append(Piece("blank"))
        elif any(
            len(value) > 2 and not value.strip(value[0])
            for value in values
            if not value[:1].isalnum()
        ):
            made.pieces.append(Piece("skip"))  # it only fills the line
        elif (signs := _by(values, [state[0] for state in states])) is not None:
            made.pieces.append(Piece("sign", width=width, optional="" in signs[False]))
            signs[False].discard("")
            made.minus |= signs[True]
            made.plus |= signs[False]
        elif (units := _by(values, [state[1] for state in states])) is not None:
            if any(not word.strip(" \t") for word in units[True] | units[False]):
                return None
            made.pieces.append(
                Piece("unit", width=width, words=frozenset(units[True] | units[False]))
            )
            words = dict.fromkeys(units[True], True) | dict.fromkeys(units[False], False)
            made.units.update(words)
            made.turned.update(words)
        else:
            made.odd += 1
            made.pieces.append(Piece(_kind(values), width=width))
    return made


def _kind(values: Sequence[str]) -> Literal["digits", "other", "word", "skip"]:
    """What the changing words at one place are made of."""
    if all(value.isascii() and value.isdigit() for value in values):
        return "digits"
    if all(_NUMBER.match(value) for value in values):
        return "other"
    return "word" if all(value.isascii() and value.isalnum() for value in values) else "skip"


def merged(pieces: Sequence[Piece]) -> list[Piece]:
    """The pieces with figures and letters in a row, some of which change, as one hexadecimal
    counter: the letters change too, later."""
    made: list[Piece] = []
    row: list[Piece] = []
    for piece in [*pieces, None]:
        if piece is not None and _hexadecimal(piece):
            row.append(piece)
            continue
        kinds = {one.kind for one in row}
        changing = any(one.kind == "digits" and not one.text for one in row)
        if changing and len(kinds) > 1 and not (made and made[-1].kind == "number"):
            widths = [one.width for one in row]
            width = None if None in widths else sum(one or 0 for one in widths)
            touched = piece is not None and piece.kind in ("unit", "sign", "number", "text")
            made.append(Piece("digits", width=width if touched else None, optional=touched))
        else:
            made += row
        row = []
        if piece is not None:
            made.append(piece)
    return made


def _hexadecimal(piece: Piece) -> bool:
    if piece.kind == "digits":
        return True
    if piece.kind != "text" or not piece.text:
        return False
    return set(piece.text) <= set("ABCDEF") or set(piece.text) <= set("abcdef")


def _by(values: Sequence[str], on: Sequence[bool | None]) -> dict[bool, set[str]] | None:
    """The words while on and while off, where the two never meet and each is one word."""
    said: dict[bool, set[str]] = {True: set(), False: set()}
    for value, state in zip(values, on, strict=True):
        if state is not None:
            said[state].add(value)
    if len(said[True]) != 1 or not said[False] or said[True] & said[False]:
        return None
    if len(said[False]) > 1:
        return None
    free = {value for value, state in zip(values, on, strict=True) if state is None}
    return said if free <= said[True] | said[False] else None


def _by_unit(strings: Sequence[str], states: States) -> Wording | None:
    """Strings that are one whole before and another after the unit was switched."""
    said = _by(strings, [state[1] for state in states])
    if said is None:
        return None
    one, two = next(iter(said[False])), next(iter(said[True]))
    start, end = _shared(one, two), _shared(one[::-1], two[::-1])
    end = min(end, len(one) - start, len(two) - start)
    while start and _wordy(one[start - 1]):
        start -= 1
    while end and _wordy(one[len(one) - end]):
        end -= 1
    words = one[start : len(one) - end], two[start : len(two) - end]
    if not all(word.strip(" \t") for word in words):
        return None
    stripped = [word.strip(" \t") for word in words]
    head, tail = _constant(one[:start]), _constant(one[len(one) - end :] if end else "")
    unit = [Piece("blank"), Piece("unit", words=frozenset(stripped)), Piece("blank")]
    units = {stripped[0]: False, stripped[1]: True}
    return Wording([*head.pieces, *unit, *tail.pieces], set(), set(), units, turned=set(units))


def _shared(one: str, two: str) -> int:
    return next((i for i, (a, b) in enumerate(zip(one, two, strict=False)) if a != b), 0)


def _wordy(sign: str) -> bool:
    return not sign.isspace() and sign not in ",;:[]()"


def pattern(
    pieces: Sequence[Piece], number: str, minus: set[str], plus: set[str], units: Sequence[str]
) -> re.Pattern[str]:
    """The pieces as one pattern with the groups sign, number and unit."""
    made: dict[str, Callable[[Piece], str]] = {
        "text": lambda piece: re.escape(piece.text),
        "blank": lambda piece: r"[ \t]*",
        "sign": lambda piece: f"(?P<sign>{_either(minus | plus)}){'?' if piece.optional else ''}",
        "number": lambda piece: f"(?P<number>{number})",
        "unit": lambda piece: f"(?P<unit>{_either(set(units))})",
        "digits": lambda piece: "[0-9A-Fa-f]+",
        "other": lambda piece: r"[+-]?[ \t]*[0-9]+(?:[.,][0-9]+)?(?:[eE][+-]?[0-9]+)?",
        "word": lambda piece: f"[A-Za-z0-9]{{{piece.width}}}" if piece.width else "[A-Za-z0-9]+",
        "close": lambda piece: r"\)?",
        "skip": lambda piece: f".{{{piece.width}}}" if piece.width else ".*?",
    }
    return re.compile("".join(made[piece.kind](piece) for piece in pieces), re.DOTALL)


def _either(words: set[str]) -> str:
    return "|".join(map(re.escape, sorted(words, key=len, reverse=True)))
