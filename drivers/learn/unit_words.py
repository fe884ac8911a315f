"""Which of the words around a number says its unit."""

from __future__ import annotations

import re
from collections.abc import Sequence

from capture.quantity import unit_name
from drivers.learn.scale import Scaling
from drivers.learn.wording import Piece, Wording, is_unit


def units_of(head: Wording, tail: Wording, scaling: Scaling) -> dict[str, bool] | None:
    """The unit words; None where they contradict the sizes or do not tell the units apart."""
    units = head.units | tail.units
    for one in (head, tail):
        units |= {word: on for word, on in one.units.items() if word in one.turned}
    if scaling.follows and scaling.switched is not None:
        assert scaling.base.unit != scaling.switched.unit
        if len(set(units.values())) < 2:
            return None
    return units


def kept_units(units: dict[str, bool], pieces: Sequence[Piece]) -> dict[str, bool]:
    """The words of the unit that is read."""
    read = [piece for piece in pieces if piece.kind == "unit"]
    if not read:
        return {}
    if read[0].text:
        return {read[0].text: False}
    return {word: on for word, on in units.items() if word in read[0].words}


def best_unit(
    head: Sequence[Piece], tail: Sequence[Piece], scaling: Scaling
) -> tuple[list[Piece], list[Piece]]:
    """The pieces, of words that changed with the unit only those left that say it best: names of
    the units before letters, letters before figures."""
    changing = [piece for piece in (*head, *tail) if piece.kind == "unit" and piece.words]
    best = max((says(piece, scaling) for piece in changing), default=0)

    def left(pieces: Sequence[Piece]) -> list[Piece]:
        return [
            Piece(("other", "digits", "skip", "skip")[says(piece, scaling)], width=piece.width)
            if piece.kind == "unit" and piece.words and says(piece, scaling) < best
            else piece
            for piece in pieces
        ]

    return left(head), left(tail)


def says(piece: Piece, scaling: Scaling) -> int:
    """How well words tell the units: 3 the names of the two, 2 letters, 1 figures, 0 a number
    with a point, which may change just then by accident."""
    names = {scaling.base.unit, scaling.switched.unit if scaling.switched else ""}
    if all(is_unit(word) and unit_name(word) in names for word in piece.words):
        return 3
    if any(re.search(r"[0-9][.,][0-9]", word) for word in piece.words):
        return 0
    return 1 if any(word.strip("+-").isdigit() for word in piece.words) else 2


def two_units(pieces: Sequence[Piece], scaling: Scaling) -> tuple[str, ...]:
    """The doubt which of several changing words says the unit."""
    said = {
        piece.words
        for at, piece in enumerate(pieces)
        if piece.kind == "unit"
        and piece.words
        # parts of one word do not count
        and not any(one.kind == "unit" and one.words for one in pieces[max(0, at - 2) : at])
    }
    if len(said) < 2 or any(says(piece, scaling) == 3 for piece in pieces if piece.words):
        return ()
    return ("several things in the line changed when the unit was switched",)


def one_unit(pieces: Sequence[Piece], scaling: Scaling, changing: bool, taken: bool) -> list[Piece]:
    """The pieces with the unit nearest to the number as unit and any other such word as text."""
    made: list[Piece] = []
    for piece in pieces:
        if piece.kind != "unit":
            made.append(piece)
        elif piece.words:
            made.append(Piece("skip", width=piece.width) if taken else piece)
            taken = True
        elif taken or changing or unit_name(piece.text) != scaling.base.unit:
            made.append(Piece("text", piece.text, piece.width))
        else:
            made.append(piece)
            taken = True
    return made
