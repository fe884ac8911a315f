"""Bores and what runs in them: cut open with their depths, and along the axis with directions."""

from __future__ import annotations

from api.pictures.seen import Seen
from api.pictures.strokes import (
    THIN,
    arrow,
    circle,
    dashed,
    line,
    path,
    rect,
    solid,
    span,
    was,
    words,
)

LEFT, MIDDLE, RIGHT = 130.0, 250.0, 370.0
TOP, BOTTOM = 14.0, 190.0
CENTRE = 102.0
CAPTION = 240.0
ROOM = 236.0
"""For the word below each of two views."""


def bore(seen: Seen) -> list[str]:
    """A bore."""
    both = bool(seen.depths and seen.axes) or not seen.wanted
    made = []
    if seen.depths or not seen.axes:
        made += _section(seen, LEFT if both else MIDDLE)
    if seen.axes or not seen.wanted:
        made += _plan(seen, RIGHT if both else MIDDLE, 84)
    return made


def capped_bore(seen: Seen) -> list[str]:
    """A bore that a cap closes."""
    x = RIGHT if seen.depths else MIDDLE
    made = _section(seen, LEFT) if seen.depths else []
    made += [
        rect(x - 112, 26, 224, 164, rx=16),
        line(x - 112, CENTRE + 6, x - 66, CENTRE + 6, stroke_width=THIN),
        line(x + 66, CENTRE + 6, x + 112, CENTRE + 6, stroke_width=THIN),
    ]
    for bolt in (x - 88, x + 88):
        made += [rect(bolt - 15, 8, 30, 18, fill="currentColor"), dashed(bolt, 40, bolt, 176)]
    return made + _plan(seen, x, 62, CENTRE + 6)


def journal(seen: Seen) -> list[str]:
    """A journal between its cheeks."""
    both = bool(seen.depths and seen.axes) or not seen.wanted
    made = []
    if seen.depths or not seen.axes:
        made += _between_cheeks(seen, LEFT if both else MIDDLE)
    if seen.axes or not seen.wanted:
        made += _plan(seen, RIGHT if both else MIDDLE, 72)
    return made


def shell(seen: Seen) -> list[str]:
    """Half a bearing, its crown below; the wall is taken at the crown."""
    made = [
        path("M96 40A154 154 0 0 0 404 40L366 40A116 116 0 0 1 134 40Z", fill="currentColor",
             fill_opacity="0.22"),
        dashed(60, 40, 440, 40),
    ]  # fmt: skip
    if seen.wanted:
        made += [arrow((250, 92), (250, 153)), arrow((250, 250), (250, 198))]
    return [*made, *_aside(seen, 250, 74, 200)]


def ring(seen: Seen) -> list[str]:
    """A ring in its bore, from above; its gap on the right."""
    made = [
        circle(200, 124, 114),
        path("M290.6 138.3A92 92 0 1 1 290.6 109.7", stroke_width=20, stroke_linecap="butt"),
    ]
    if seen.wanted:
        made += [_gap(280, 110, 22, 28), arrow((446, 124), (314, 124))]
    return [*made, *_aside(seen, 396, 220, 190)]


def _gap(x: float, y: float, wide: float, high: float) -> str:
    return rect(x, y, wide, high, class_="lit", fill="#ffc400", stroke_width=5)


def _section(seen: Seen, x: float) -> list[str]:
    """Cut open along the axis, the first depth on top."""
    made = [
        solid(x - 94, TOP, 22, BOTTOM - TOP),
        solid(x + 72, TOP, 22, BOTTOM - TOP),
    ]
    for at in seen.drawn_depths():
        y = seen.height(at, TOP, BOTTOM)
        made.append(dashed(x - 60, y, x + 60, y))
        if seen.done_depth(at):
            made += [was(x - 54, y), was(x + 54, y)]
    if seen.wanted:
        y = seen.height(seen.depth or 0, TOP, BOTTOM)
        made.append(span((x - 68, y), (x + 68, y)))
    if seen.depth_word:
        made.append(words(seen.depth_word, x, CAPTION, ROOM))
    return made


def _between_cheeks(seen: Seen, x: float) -> list[str]:
    """From the side, the first depth on the left."""
    made = [
        rect(x - 110, 20, 28, 168, rx=6),
        rect(x + 82, 20, 28, 168, rx=6),
        line(x - 82, 48, x + 82, 48),
        line(x - 82, 160, x + 82, 160),
        dashed(x - 120, 104, x + 120, 104),
    ]
    for at in seen.drawn_depths():
        along = seen.height(at, x - 82, x + 82)
        made.append(dashed(along, 60, along, 148))
        if seen.done_depth(at):
            made += [was(along, 66), was(along, 142)]
    if seen.wanted:
        along = seen.height(seen.depth or 0, x - 82, x + 82)
        made.append(span((along, 52), (along, 156)))
    if seen.depth_word:
        made.append(words(seen.depth_word, x, CAPTION, ROOM))
    return made


def _plan(seen: Seen, x: float, r: float, y: float = CENTRE) -> list[str]:
    """Along the axis, with the directions."""
    made = [circle(x, y, r)]
    for at in seen.drawn_axes():
        ends = seen.at(at, x, y, r - 10), seen.at(at, x, y, 10 - r)
        made.append(dashed(*ends[0], *ends[1]))
        if seen.done_axis(at):
            made += [was(*seen.at(at, x, y, r - 17)), was(*seen.at(at, x, y, 17 - r))]
    if seen.axis is not None:
        made.append(span(seen.at(seen.axis, x, y, 4 - r), seen.at(seen.axis, x, y, r - 4)))
        made.append(words(seen.axis_word, x, CAPTION, ROOM))
    elif seen.wanted and not seen.depths:
        made.append(span((x, y + r - 4), (x, y - r + 4)))
    return made


def _aside(seen: Seen, x: float, y: float, room: float) -> list[str]:
    """The words of the point where the drawing has no place for each."""
    said = " ".join(word for word in (seen.depth_word, seen.axis_word) if word)
    return [words(said, x, y, room)] if said else []
