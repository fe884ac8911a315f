"""Explanations of messages that are text: which digits are the number, and what is around them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from drivers.learn.beside import states
from drivers.learn.own_digits import fives, glued_unit, has_letters, still_end
from drivers.learn.press import Press
from drivers.learn.scale import Scaling, as_stated, scalings
from drivers.learn.unit_words import best_unit, kept_units, one_unit, says, two_units, units_of
from drivers.learn.wording import Piece, merged, pattern, wording
from drivers.learn.written import RUNS, Around, Writing, candidates

_BEFORE = re.compile(r"(?P<rest>.*?)(?P<sign>[+(-]?)(?P<blank>[ \t]*)\Z", re.DOTALL)
_AFTER = re.compile(r"(?P<blank>[ \t]*)(?P<sign>[+-]?)(?P<rest>.*)\Z", re.DOTALL)
_CLOSED = re.compile(r"(?P<blank>[ \t]*)(?P<sign>\)?)(?P<rest>.*)\Z", re.DOTALL)


@dataclass(frozen=True, slots=True)
class TextReading:
    """One explanation of text messages."""

    writing: Writing
    scaling: Scaling
    pieces: tuple[Piece, ...]
    minus: frozenset[str]
    plus: frozenset[str]
    units: dict[str, bool]
    width: int | None
    """Of the number, where it must be as many bytes."""
    whole: str
    """For a person: where the number stands."""
    odd: int
    sign_seen: bool
    exponent: bool
    doubts: tuple[str, ...]
    spans: tuple[tuple[int, int], ...]
    """Where the number stands in each message."""


def explanations(texts: Sequence[str], presses: Sequence[Press], slack: int) -> list[TextReading]:
    """Every explanation of the texts (framing and check bytes taken off)."""
    for glued in (False, True):
        found: list[TextReading] = []
        for around, writing, where, width in candidates(texts, glued):
            counts = [writing.count(text) for text in around.number]
            known = [count for count in counts if count is not None]
            if len(known) < len(counts) or len(set(known)) < 2:
                continue
            for scaling in scalings(known, presses, writing.signed, slack):
                if still_end(around.number, writing, presses, scaling):
                    continue
                counted = scaling.base.factor is not None and scaling.base.places is None
                if counted and (glued or not has_letters(around.number, writing)):
                    continue
                reading = _surrounded(around, writing, scaling, presses, where, width)
                if reading is not None and not reading.units:
                    reading = replace(reading, scaling=as_stated(reading.scaling, presses))
                if reading is not None:
                    found.append(reading)
        if found:
            break
    return _without_parts(found)


def _without_parts(found: list[TextReading]) -> list[TextReading]:
    """Readings whose digits are no mere part of another's: the first digits of a number fit too,
    coarsely."""
    kept = [
        reading
        for reading in found
        if not any(_part(reading.spans, other.spans) for other in found)
    ]
    return sorted(kept, key=lambda r: (r.scaling.open, r.scaling.base.factor is not None, r.odd))


def _part(one: Sequence[tuple[int, int]], two: Sequence[tuple[int, int]]) -> bool:
    return one != two and all(a >= c and b <= d for (a, b), (c, d) in zip(one, two, strict=True))


def _surrounded(
    around: Around,
    writing: Writing,
    scaling: Scaling,
    presses: Sequence[Press],
    where: str,
    width: int | None,
) -> TextReading | None:
    """The reading with the words around it explained, or None where they cannot be."""
    if _part_of_number(around, writing, scaling):
        return None
    negative, switched = states(presses)
    state = [(one, bool(two)) for one, two in zip(negative, switched, strict=True)]
    before, after = around.before, around.after
    adjacent: list[Piece] = []
    trailing: list[Piece] = []
    touched = all(text[:1].isdigit() for text in around.after)
    led = all(text[-1:].isdigit() for text in around.before)
    blank = [Piece("blank")] if width is None else []
    sign_seen = writing.signed and True in negative
    minus: set[str] = set()
    plus: set[str] = set()
    if not writing.signed:
        ahead = [_split(_BEFORE, text) for text in before]
        behind = [_split(_AFTER, text) for text in after]
        closed = [_split(_CLOSED, text) for text in after]
        before = [text.rstrip(" \t") for text in before]
        after = [text.lstrip(" \t") for text in after]
        if _is_sign([sign for _, sign in ahead], negative, "(") and _is_sign(
            [sign for _, sign in closed], negative, ")"
        ):
            before, after = [rest for rest, _ in ahead], [rest for rest, _ in closed]
            adjacent = [Piece("blank"), Piece("sign", optional=True), Piece("blank")]
            trailing = [Piece("blank"), Piece("close", ")"), Piece("blank")]
            sign_seen, minus = True, {"("}
        elif _is_sign([sign for _, sign in ahead], negative):
            before = [rest for rest, _ in ahead]
            adjacent = [Piece("blank"), Piece("sign", optional=True), Piece("blank")]
            sign_seen, minus, plus = True, {"-"}, {"+"}
        elif _is_sign([sign for _, sign in behind], negative):
            after = [rest for rest, _ in behind]
            trailing = [Piece("blank"), Piece("sign", optional=True), Piece("blank")]
            sign_seen, minus, plus = True, {"-"}, {"+"}
        elif True not in negative and not any(sign == "-" for _, sign in ahead):
            before = [rest for rest, _ in ahead]
            adjacent = [Piece("blank"), Piece("sign", optional=True), Piece("blank")]
            minus, plus = {"-"}, {"+"}
        if not sign_seen and (letters := _letters(before, negative)):
            minus, plus = {letters[0]}, {letters[1]} - {""}
            before = [
                text[:-1].rstrip(" \t") if text[-1:] in letters and text else text
                for text in before
            ]
            adjacent = [Piece("blank"), Piece("sign", optional=not plus), Piece("blank")]
            sign_seen = True
    powers = any("e" in text.lower() for text in around.number) and writing.form == "decimal"
    head, tail = (wording(texts, state, writing.mark, powers) for texts in (before, after))
    if head is None or tail is None:
        return None
    if sign_seen:  # then any other sign is another number's
        for other in (head, tail):
            other.pieces = [
                Piece("skip", width=piece.width) if piece.kind == "sign" else piece
                for piece in other.pieces
            ]
            other.minus, other.plus = set(), set()
    signs = [piece for piece in (*head.pieces, *tail.pieces) if piece.kind == "sign"]
    if not sign_seen and True in negative:
        if len(signs) != 1:
            return None
        sign_seen = True
    minus |= head.minus | tail.minus
    plus |= head.plus | tail.plus
    units = units_of(head, tail, scaling)
    if units is None:
        return None
    number = Piece("number", width=width)
    ahead_pieces, behind_pieces = best_unit(head.pieces, tail.pieces, scaling)
    changing = any(p.kind == "unit" and p.words for p in (*ahead_pieces, *behind_pieces))
    behind_has = any(p.kind == "unit" and (p.words or not changing) for p in behind_pieces)
    pieces = [
        *one_unit(ahead_pieces[::-1], scaling, changing, behind_has)[::-1],
        *(adjacent or ([] if led else blank)),
        number,
        *(trailing or ([] if touched else blank)),
        *one_unit(behind_pieces, scaling, changing, False),
    ]
    told = [piece for piece in pieces if piece.kind == "unit" and piece.words]
    if scaling.follows and not any(says(piece, scaling) for piece in told):
        return None
    units = kept_units(units, pieces)
    return TextReading(
        writing,
        scaling,
        tuple(merged(pieces)),
        frozenset(minus),
        frozenset(plus),
        units,
        width,
        where,
        head.odd + tail.odd,
        sign_seen,
        writing.form == "decimal" and any("e" in text.lower() for text in around.number),
        (
            *glued_unit(pieces, units, around, scaling, presses, writing),
            *fives(around.number, writing, presses, scaling),
            *two_units([*ahead_pieces, *behind_pieces], scaling),
        ),
        tuple(
            (len(one), len(one) + len(two))
            for one, two in zip(around.before, around.number, strict=True)
        ),
    )


def _part_of_number(around: Around, writing: Writing, scaling: Scaling) -> bool:
    """Whether the digits are only those before or behind a point that is sent."""
    if writing.mark:
        return False
    if any(re.match(r"[eE][+-]?[0-9]", text) for text in around.after):
        return True
    whole = scaling.base.places == 0
    marks = ".," if whole else "."
    return any(text[:1] and text[0] in marks and text[1:2].isdigit() for text in around.after) or (
        any(text[-1:] and text[-1] in marks and text[-2:-1].isdigit() for text in around.before)
    )


def _letters(before: Sequence[str], negative: Sequence[bool | None]) -> tuple[str, str] | None:
    """The letters (or figures) just before every negative and every positive number; the second
    may be empty, where positive numbers have none."""
    lost = [text for text, state in zip(before, negative, strict=True) if state]
    kept = [text for text, state in zip(before, negative, strict=True) if state is False]
    minus = {text[-1:] for text in lost}
    plus = {text[-1:] for text in kept}
    if len(minus) != 1 or not kept or minus & plus:
        return None
    one = minus.pop()
    if not one.isalnum():
        return None
    either = {text[-1:] for text, state in zip(before, negative, strict=True) if state is None}
    two = next(iter(plus)) if len(plus) == 1 else ""
    alike = two.isalpha() if one.isalpha() else two.isdigit()
    as_long = {len(text) for text in lost} <= {len(text) for text in kept}
    if two and alike and as_long and either <= {one, two}:
        return one, two
    return (one, "") if one.isalpha() else None


def _split(cut: re.Pattern[str], text: str) -> tuple[str, str]:
    found = cut.match(text)
    assert found is not None
    rest = found["rest"]
    return (rest.rstrip(" \t") if cut is _BEFORE else rest.lstrip(" \t")), found["sign"]


def _is_sign(signs: Sequence[str], negative: Sequence[bool | None], minus: str = "-") -> bool:
    """Whether the minus stands at every negative size and at no positive one."""
    if True not in negative:
        return False
    return all(
        state is None or (sign == minus) == state
        for sign, state in zip(signs, negative, strict=True)
    )


def native(reading: TextReading) -> re.Pattern[str]:
    """The reading as a pattern of our own, for comparing explanations."""
    name = "hex" if reading.writing.form == "hex" else reading.writing.mark
    number = RUNS[name] if reading.width is None else f".{{{reading.width}}}"
    return pattern(
        reading.pieces, number, set(reading.minus), set(reading.plus), list(reading.units)
    )
