"""Where digits stand in lines of text, and the ways of writing a number with them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from drivers.learn.scale import Count

Form = Literal["decimal", "hex"]

RUNS = {
    ".": r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?",
    ",": r"(?:[0-9]+(?:,[0-9]*)?|,[0-9]+)(?:[eE][+-]?[0-9]+)?",
    "": r"[0-9]+",
    "hex": r"[0-9A-Fa-f]{2,16}",
}


_STARTS = re.compile(r"(?<![0-9])[0-9]")


@dataclass(frozen=True, slots=True)
class Writing:
    """How a number's digits are written."""

    form: Form = "decimal"
    mark: str = ""
    """The decimal mark; empty where none is sent."""
    backwards: bool = False
    twos: bool = False
    """Two's complement of as many hex digits as there are."""
    top: bool = False
    """The highest bit of as many hex digits as there are is the sign."""

    @property
    def signed(self) -> bool:
        return self.twos or self.top

    def count(self, text: str) -> Count | None:
        """The number that ``text`` is; None where it is none."""
        if self.backwards:
            text = text[::-1]
        try:
            if self.form == "hex":
                value = int(text, 16)
                top = 1 << (4 * len(text) - 1)
                if self.top and value & top:
                    return Count(top - value)
                return Count(value - 2 * top if self.twos and value & top else value)
            mantissa, _, exponent = text.lower().partition("e")
            whole, _, part = mantissa.partition(self.mark) if self.mark else (mantissa, "", "")
            if not self.mark:
                return Count(int(whole))
            if abs(int(exponent or 0)) > 12:
                return None
            places = len(part) - int(exponent or 0)
            value = int((whole + part) or "0")
        except ValueError:
            return None
        return Count(value * 10**-places, 0) if places < 0 else Count(value, places)


class Around(NamedTuple):
    """What stands before and after the number in every message."""

    before: list[str]
    number: list[str]
    after: list[str]


_Candidate = tuple[Around, str, int | None]


def candidates(
    texts: Sequence[str], glued: bool
) -> Iterator[tuple[Around, Writing, str, int | None]]:
    """Every number the texts may hold: those that stand alone, or those glued to other digits."""
    seen: set[tuple[tuple[str, ...], tuple[str, ...], Writing]] = set()
    for name in (".", ",", "", "hex"):
        for around, where, width in _glued(texts, name) if glued else _runs(texts, RUNS[name]):
            for writing in _writings(name, around.number):
                key = (tuple(around.before), tuple(around.number), writing)
                if key not in seen:
                    seen.add(key)
                    yield around, writing, where, width


def _glued(texts: Sequence[str], name: str) -> Iterator[_Candidate]:
    """Numbers to which digits are glued that are not theirs: a sign, a unit, a check."""
    if name in ("", "hex") and len(set(map(len, texts))) == 1:
        yield from _columns(texts)
    for around, where, _ in _runs(texts, RUNS[name]):
        shortest = min(map(len, around.number))
        for first in range(5):
            for last in range(5):
                if not (first or last) or shortest - first - last < 2:
                    continue
                made = _trimmed(around, first, last)
                if name and name != "hex" and (first > 1 or last > 2):
                    continue
                if _own_digits(made, last):
                    continue
                if name in ("", "hex") or all(re.fullmatch(RUNS[name], n) for n in made.number):
                    yield made, f"part of {where}", None


def _own_digits(around: Around, last: int) -> bool:
    """Whether what was cut off behind changes too much to be anything but the number's own."""
    cut = {text[:last] for text in around.after}
    return last > 0 and len(cut) > 2


def _trimmed(around: Around, first: int, last: int) -> Around:
    """Without so many digits at its beginning and end."""
    return Around(
        [b + n[:first] for b, n in zip(around.before, around.number, strict=True)],
        [number[first : len(number) - last] for number in around.number],
        [
            n[len(n) - last :] + after if last else after
            for n, after in zip(around.number, around.after, strict=True)
        ],
    )


def _writings(name: str, numbers: Sequence[str]) -> Iterator[Writing]:
    if name == "hex":
        if all(re.fullmatch(r"[0-9A-Fa-f]{2,16}", number) for number in numbers):
            yield Writing("hex")
            if len(set(map(len, numbers))) == 1:
                yield Writing("hex", twos=True)
                yield Writing("hex", top=True)
        return
    powers = name == "." and any("e" in number.lower() for number in numbers)
    if name and not powers and not any(name in number for number in numbers):
        return
    if not name and not all(number.isascii() and number.isdigit() for number in numbers):
        return
    yield Writing(mark=name)
    yield Writing(mark=name, backwards=True)


def _runs(texts: Sequence[str], run: str) -> Iterator[_Candidate]:
    """Each number of the messages in turn, counted from the line's start, or from its end where
    not all have as many: one after another, then also those that begin inside of another, as
    where a comma is a decimal mark and stands between numbers too."""
    pattern = re.compile(run)
    apart = [[match.span() for match in pattern.finditer(text)] for text in texts]
    yield from _counted(texts, apart)
    if run in (RUNS["."], RUNS[","]):
        inside = [
            [
                found.span()
                for at in _STARTS.finditer(text)
                if (found := pattern.match(text, at.start()))
            ]
            for text in texts
        ]
        if inside != apart:
            yield from _counted(texts, inside)


def _counted(texts: Sequence[str], found: list[list[tuple[int, int]]]) -> Iterator[_Candidate]:
    fewest = min(map(len, found))
    even = all(len(spans) == fewest for spans in found)
    for index in range(fewest):
        yield _around(texts, [spans[index] for spans in found], f"number {index + 1} of the line")
    for index in range(1, 0 if even else fewest + 1):
        where = f"number {index} from the line's end"
        yield _around(texts, [spans[-index] for spans in found], where)


def _around(texts: Sequence[str], spans: Sequence[tuple[int, int]], where: str) -> _Candidate:
    pairs = list(zip(texts, spans, strict=True))
    before = [text[:start] for text, (start, _) in pairs]
    number = [text[start:end] for text, (start, end) in pairs]
    return Around(before, number, [text[end:] for text, (_, end) in pairs]), where, None


def _columns(texts: Sequence[str]) -> Iterator[_Candidate]:
    """Every stretch of columns that is digits in every message; the last of them changes."""
    length = len(texts[0])
    digit = [all(text[at] in "0123456789abcdefABCDEF" for text in texts) for at in range(length)]
    changes = [len({text[at] for text in texts}) > 1 for at in range(length)]
    for start in range(length):
        for end in range(start + 2, min(length, start + 12) + 1):
            if not digit[end - 1]:
                break
            if not digit[start] or not (changes[end - 1] or changes[start]):
                continue
            inside = (start and digit[start - 1]) or (end < length and digit[end])
            if not inside:
                continue  # a whole run: already tried
            yield (
                Around(
                    [text[:start] for text in texts],
                    [text[start:end] for text in texts],
                    [text[end:] for text in texts],
                ),
                f"columns {start + 1} to {end}",
                end - start,
            )
