"""Whether digits at a number's end, or beside it, are its own."""

from __future__ import annotations

from collections.abc import Sequence

from drivers.learn.press import Press, known_places, places_of
from drivers.learn.scale import Scaling
from drivers.learn.wording import Piece
from drivers.learn.written import Around, Writing

_HEX = set("0123456789abcdefABCDEF")


MANY = 5
"""Presses in which a digit is not the same by accident."""


def by_fives(ends: str) -> bool:
    """Whether such last digits are those of a display that steps by five of a place."""
    return ends.strip("0") == "5"


def still_end(
    numbers: Sequence[str], writing: Writing, presses: Sequence[Press], scaling: Scaling
) -> bool:
    """Whether the last digits are always the same and so not the number's: other than noughts,
    or noughts behind digits that show the display's last place."""
    first = [n for n, press in zip(numbers, presses, strict=True) if press.switched is None]
    if writing.form == "hex":
        ends = "".join({number[-1] for number in first})
        return len(first) >= MANY and len(ends) == 1 and ends != "0"
    if len(first) < 3 or "e" in "".join(first).lower():
        return False
    turned = first if writing.backwards else [number[::-1] for number in first]
    least = min(map(len, turned))
    same = next((at for at in range(least) if len({number[at] for number in turned}) > 1), least)
    ends = turned[0][:same]
    if not same or same == least or not ends.isdigit():
        return False
    if ends.strip("0"):  # by accident where presses are few, or the display steps by five: fives
        return len(first) >= MANY and not by_fives(ends)
    shown = sum(number[same].isdigit() and number[same] != "0" for number in turned)
    left = (scaling.base.places or 0) - same
    return not writing.mark and shown > 1 and left >= known_places(presses, scaling.base.unit)


def has_letters(numbers: Sequence[str], writing: Writing) -> bool:
    """Whether what is taken for hexadecimal digits has any that are no decimal ones."""
    return writing.form != "hex" or any(not number.isdigit() for number in numbers)


def fives(
    numbers: Sequence[str], writing: Writing, presses: Sequence[Press], scaling: Scaling
) -> tuple[str, ...]:
    """The doubt whether a last digit that never changed is the number's."""
    first = [n for n, press in zip(numbers, presses, strict=True) if press.switched is None]
    ends = {number[0 if writing.backwards else -1] for number in first}
    if len(first) < 3 or len(ends) > 1 or ends == {"0"} or not scaling.off:
        return ()
    if "e" in "".join(first).lower() and writing.form != "hex":
        return ()
    return ("the last digit was the same in every message: it may say something else",)


def glued_unit(
    pieces: Sequence[Piece],
    units: dict[str, bool],
    around: Around,
    scaling: Scaling,
    presses: Sequence[Press],
    writing: Writing,
) -> tuple[str, ...]:
    """The doubt whether digits next to the number say the unit or are its own."""
    at = next(index for index, piece in enumerate(pieces) if piece.kind == "number")
    beside = {piece.kind for piece in (*pieces[max(0, at - 1) : at], *pieces[at + 1 : at + 2])}
    if "unit" not in beside or not all(set(word) <= _HEX for word in units):
        return ()
    if any(not on and set(word) - {"0"} for word, on in units.items()):
        return ()
    for press, text in zip(presses, around.number, strict=True):
        count = writing.count(text)
        if count is None or press.unit is None or press.switched is not None:
            continue
        size = scaling.base.size(count)
        places = scaling.base.places if count.places is None else count.places
        fine = press.unit == scaling.base.unit and places_of(press.size) == places
        if abs(size) != abs(press.at(scaling.base.unit)) or (fine and places):
            return ()  # the number shows its last digit, and still the others were noughts
    return ("digits that touch the number may say the unit, or be the number's own",)
