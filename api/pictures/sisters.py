"""The row of a part's sisters: which of them is meant."""

from __future__ import annotations

import math
from typing import Final

from api.pictures.strokes import HEIGHT, INK, LIT, THIN, WIDTH, Spot, circle, polygon, rect, words
from capture.spec.model import Part
from capture.spec.shape import Shape

MOST: Final = 12
"""Outlines in the row; of more, those round the one that is meant."""
Y: Final = 270.0
BASE: Final = HEIGHT - 6
UPRIGHT: Final = frozenset({Shape.PISTON, Shape.GROOVE, Shape.ROD, Shape.BESIDE_ROD})
SQUARE: Final = frozenset({Shape.FACE, Shape.BLOCK, Shape.PART, Shape.PROBE, Shape.CAP})


def row(part: Part, shape: Shape, number: int) -> list[str]:
    """The outlines of all of a part, the wanted one filled and its number below; parts that stand
    at one place stand closer together."""
    first, last = _shown(part.count, number)
    gaps = [
        0.0 if n == first else 0.7 if part.place(n) != part.place(n - 1) and part.per > 1 else 0.2
        for n in range(first, last + 1)
    ]
    room = WIDTH - 60.0
    size = min(44.0, room / (len(gaps) + sum(gaps)))
    x = (WIDTH - size * (len(gaps) + sum(gaps))) / 2 + size / 2
    made = []
    if first > 1:
        made.append(_more(x - size))
    for n, gap in zip(range(first, last + 1), gaps, strict=True):
        x += gap * size + (size if n > first else 0.0)
        made.append(_outline(shape, x, size * 0.45, wanted=n == number, number=n))
        if n == number:
            at = min(max(x, 30.0), WIDTH - 30.0)
            made.append(words(str(n), at, BASE, 130, class_="lit-number"))
    if last < part.count:
        made.append(_more(x + size))
    return made


def _shown(count: int, number: int) -> tuple[int, int]:
    if count <= MOST:
        return 1, count
    first = max(1, min(number - MOST // 2, count - MOST + 1))
    return first, first + MOST - 1


def _more(x: float) -> str:
    return "".join(circle(x + step, Y, 2, fill=INK, stroke="none") for step in (-8.0, 0.0, 8.0))


def _outline(shape: Shape, x: float, r: float, *, wanted: bool, number: int) -> str:
    kept: dict[str, object] = {"stroke_width": THIN, "data_number": number}
    if wanted:
        kept |= {"fill": LIT, "class_": "lit sister", "stroke_width": 6}
    if shape is Shape.BOLT:
        return polygon(hexagon(x, Y, r), **{"fill": "none", "stroke": INK, **kept})
    if shape in UPRIGHT:
        return rect(x - 0.75 * r, Y - r, 1.5 * r, 2 * r, rx=r * 0.2, **kept)
    if shape in SQUARE:
        return rect(x - r, Y - 0.8 * r, 2 * r, 1.6 * r, rx=r * 0.2, **kept)
    return circle(x, Y, r, **kept)


def hexagon(x: float, y: float, r: float) -> list[Spot]:
    """Corners of a bolt's head, one of them to the right."""
    angles = [math.pi * side / 3 for side in range(6)]
    return [(x + r * math.cos(angle), y + r * math.sin(angle)) for angle in angles]
