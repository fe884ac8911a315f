"""Strokes that drawings of parts are made of: thick lines in the page's own ink, and what is lit.

What is wanted now is never told by its tone alone: it is an arrow or a spot with an outline, and
nothing else is filled with the lit tone. On paper without colours it is the light grey one.
"""

from __future__ import annotations

import math
from typing import Final

from api.pictures.svg import tag, text, width

WIDTH: Final = 500
HEIGHT: Final = 340
INK: Final = "currentColor"
LIT: Final = "#ffc400"
ON_LIT: Final = "#14171c"
THICK: Final = 7
THIN: Final = 5
"""A hundredth of the width, to be seen from two metres."""
DASHES: Final = "10 9"
LETTERS: Final = 44
LEAST_LETTERS: Final = 24

Spot = tuple[float, float]


def line(x1: float, y1: float, x2: float, y2: float, **attributes: object) -> str:
    kept = {"stroke": INK, "stroke_width": THICK, "stroke_linecap": "round", **attributes}
    return tag("line", x1=float(x1), y1=float(y1), x2=float(x2), y2=float(y2), **kept)


def dashed(x1: float, y1: float, x2: float, y2: float) -> str:
    """A line of what is not wanted now, or cannot be seen."""
    return line(x1, y1, x2, y2, stroke_width=THIN, stroke_dasharray=DASHES, class_="faint")


def rect(x: float, y: float, wide: float, high: float, **attributes: object) -> str:
    kept = {"fill": "none", "stroke": INK, "stroke_width": THICK, **attributes}
    return tag("rect", x=float(x), y=float(y), width=float(wide), height=float(high), **kept)


def circle(x: float, y: float, r: float, **attributes: object) -> str:
    kept = {"fill": "none", "stroke": INK, "stroke_width": THICK, **attributes}
    return tag("circle", cx=float(x), cy=float(y), r=float(r), **kept)


def path(way: str, **attributes: object) -> str:
    kept = {
        "fill": "none",
        "stroke": INK,
        "stroke_width": THICK,
        "stroke_linejoin": "round",
        "stroke_linecap": "round",
        **attributes,
    }
    return tag("path", d=way, **kept)


def solid(x: float, y: float, wide: float, high: float) -> str:
    """Material that is cut through."""
    return rect(x, y, wide, high, fill=INK, fill_opacity="0.22")


def polygon(corners: list[Spot], **attributes: object) -> str:
    way = " ".join(f"{x:.1f},{y:.1f}" for x, y in corners)
    return tag("polygon", points=way, **attributes)


def lit(**attributes: object) -> dict[str, object]:
    """The attributes of what is wanted now."""
    kept = {"class_": "lit", "fill": LIT, "stroke": INK, "stroke_width": 5}
    return {**kept, "stroke_linejoin": "round", **attributes}


def span(one: Spot, other: Spot, half: float = 7) -> str:
    """The lit arrow between two points that a size is taken across: a head at both."""
    return _arrow(one, other, half, both=True)


def arrow(start: Spot, end: Spot, half: float = 8) -> str:
    """The lit arrow that points at ``end``."""
    return _arrow(start, end, half, both=False)


def _arrow(start: Spot, end: Spot, half: float, *, both: bool) -> str:
    length = math.dist(start, end) or 1.0
    along = ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
    head = min(3.4 * half, length / (2.4 if both else 1.3))

    def at(far: float, aside: float) -> Spot:
        x, y = start[0] + along[0] * far, start[1] + along[1] * far
        return (x - along[1] * aside, y + along[0] * aside)

    wing = 2.4 * half
    tip = [at(length - head, half), at(length - head, wing), at(length, 0)]
    tip += [at(length - head, -wing), at(length - head, -half)]
    if both:
        tail = [at(head, -half), at(head, -wing), at(0, 0), at(head, wing), at(head, half)]
    else:
        tail = [at(0, -half), at(0, half)]
    return polygon(tip + tail, **lit())


def turn(x: float, y: float, r: float, half: float = 7) -> str:
    """The lit arrow round an axis, as a clock runs, open at the lower right."""
    begin, end = math.radians(150), math.radians(400)
    tip = end + 3.2 * half / r

    def at(angle: float, far: float) -> str:
        return f"{x + far * math.cos(angle):.1f} {y + far * math.sin(angle):.1f}"

    way = (
        f"M{at(begin, r + half)}A{r + half:.1f} {r + half:.1f} 0 1 1 {at(end, r + half)}"
        f"L{at(end, r + 2.3 * half)}L{at(tip, r)}L{at(end, r - 2.3 * half)}L{at(end, r - half)}"
        f"A{r - half:.1f} {r - half:.1f} 0 1 0 {at(begin, r - half)}Z"
    )
    return path(way, **lit())


def spot(x: float, y: float, r: float = 15) -> str:
    """The lit point."""
    return circle(x, y, r, **lit())


def was(x: float, y: float) -> str:
    """A point that is done: a small full dot."""
    return circle(x, y, 8, fill=INK, stroke="none", class_="was")


def check(x: float, y: float, size: float, **attributes: object) -> str:
    """A tick."""
    way = f"M{x - size:.1f} {y:.1f}L{x - 0.25 * size:.1f} {y + 0.7 * size:.1f}"
    return path(f"{way}L{x + size:.1f} {y - 0.75 * size:.1f}", **attributes)


def words(
    said: str, x: float, y: float, room: float, most: float = LETTERS, **attributes: object
) -> str:
    """A word that fits into ``room``, its baseline's middle at the point; cut where it must be.
    ``most``: the largest its letters may be."""
    size = min(most, room / max(width(said, 1.0), 1e-9))
    if size < LEAST_LETTERS:
        size = LEAST_LETTERS
        fits = int(room / width("m", size))
        said = said if len(said) <= fits else f"{said[: max(fits - 1, 1)]}…"
    kept = {"text_anchor": "middle", "font_weight": 700, "fill": INK, **attributes}
    return text(said, float(x), float(y), font_size=float(size), **kept)
