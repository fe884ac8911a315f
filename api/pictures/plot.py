"""What plots share: a frame with its numbers, lines with words, marks, spans.

Plain SVG 1.1 in the ink of what it stands in, for pages and for paper: lines differ in their
dashes and have words, marks differ in shape, nothing is told by a tone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

from api.labels.catalogue import Labels
from api.pictures.scale import Axis
from api.pictures.strokes import INK, circle, line
from api.pictures.svg import escaped, tag, text, width
from api.pictures.values import Size, Value, number, said
from api.pictures.verdict import verdict_mark

LETTERS: Final = 16
LEAST_LETTERS: Final = 12
TITLE: Final = 19
ROW: Final = 19
TOP: Final = 62
LEAST_LEFT: Final = 62
MARK: Final = 7.0
SOLID, DASHED, POINTED, MIXED = None, "11 6", "2 5", "14 5 2 5"
LONGEST_NAME: Final = 24
"""Letters of a name below a column; all of it is told with its value."""
MOST_SAID: Final = 60
"""Values that are told one by one to who cannot see the picture."""


class Level(NamedTuple):
    """A line across the plot with a word at its end."""

    value: Size
    word: str
    dashes: str | None = SOLID
    thick: float = 2.6


class Frame(NamedTuple):
    """Where numbers stand: values upwards, columns or time across."""

    up: Axis
    left: float
    right: float
    top: float
    bottom: float

    def y(self, value: float) -> float:
        part = (value - self.up.low) / (self.up.high - self.up.low)
        return self.bottom - part * (self.bottom - self.top)

    def column(self, at: int, count: int) -> float:
        """The middle of a column."""
        return self.left + (self.right - self.left) * (at + 0.5) / max(count, 1)


def framed(up: Axis, levels: Sequence[Level], wide: float, high: float, foot: float = 54) -> Frame:
    """The frame that leaves room for its numbers on the left and for lines' words on the right."""
    left = max(LEAST_LEFT, 18 + max(width(label, LETTERS) for label in up.labels))
    left = min(left, wide * 0.4)
    words = max((width(_said(one), LETTERS) for one in levels), default=0.0)
    right = wide - (words + 16 if words else 16)
    return Frame(up, left, max(right, left + 60), TOP, high - foot)


def head(title: str, unit: str) -> list[str]:
    """The title, and the unit above the numbers."""
    return [
        text(title, 8.0, 24.0, font_size=TITLE, font_weight=700),
        text(unit, 8.0, TOP - 14.0, font_size=LETTERS),
    ]


def grid(frame: Frame) -> list[str]:
    made = []
    for at, label in zip(frame.up.ticks, frame.up.labels, strict=True):
        y = frame.y(at)
        made.append(thin(frame.left, y, frame.right, y, stroke_opacity="0.22"))
        made.append(text(label, frame.left - 8, y + 5.5, font_size=LETTERS, text_anchor="end"))
    wide, high = frame.right - frame.left, frame.bottom - frame.top
    made.append(
        tag("rect", x=frame.left, y=frame.top, width=wide, height=high, fill="none", stroke=INK)
    )
    return made


def thin(x1: float, y1: float, x2: float, y2: float, **attributes: object) -> str:
    return line(x1, y1, x2, y2, **{"stroke_width": 1.2, "stroke_linecap": None, **attributes})


def drawn_levels(frame: Frame, levels: Sequence[Level]) -> list[str]:
    """The lines, and their words beside them where no two lie on one another."""
    made = []
    placed = sorted(levels, key=lambda one: -number(one.value))
    heights = apart([frame.y(number(one.value)) for one in placed], ROW, frame.top, frame.bottom)
    for one, height in zip(placed, heights, strict=True):
        y = frame.y(number(one.value))
        style = {"stroke_width": one.thick, "stroke_dasharray": one.dashes, "class_": "level"}
        made.append(thin(frame.left, y, frame.right, y, **style))
        made.append(text(_said(one), frame.right + 10, height + 5.5, font_size=LETTERS))
        if abs(height - y) > 3:
            made.append(thin(frame.right, y, frame.right + 8, height))
    return made


def apart(heights: Sequence[float], gap: float, top: float, bottom: float) -> list[float]:
    """Heights (downwards, rising) pushed ``gap`` apart or more, within the frame if they fit."""
    found: list[float] = []
    for height in heights:
        found.append(max(height, found[-1] + gap) if found else max(height, top - gap))
    limit = bottom + gap
    for at in range(len(found) - 1, -1, -1):
        found[at] = min(found[at], limit)
        limit = found[at] - gap
    return found


def band(frame: Frame, lower: Size | None, upper: Size | None) -> list[str]:
    """A light ground between two limits."""
    if lower is None and upper is None:
        return []
    top = frame.top if upper is None else frame.y(number(upper))
    bottom = frame.bottom if lower is None else frame.y(number(lower))
    if bottom <= top:
        return []
    wide = frame.right - frame.left
    return [
        tag("rect", x=frame.left, y=top, width=wide, height=bottom - top, fill=INK,
            fill_opacity="0.08")
    ]  # fmt: skip


def column_labels(frame: Frame, names: Sequence[str], name: str) -> list[str]:
    """A word below each column, as many as have room; and what they count."""
    names = [one if len(one) <= LONGEST_NAME else f"{one[: LONGEST_NAME - 1]}…" for one in names]
    count = len(names)
    room = (frame.right - frame.left) / max(count, 1)
    widest = max((width(one, 1.0) for one in names), default=0.0) or 1.0
    size = max(LEAST_LETTERS, min(LETTERS, (room - 8) / widest))
    every = max(1, math.ceil((widest * size + 8) / room))
    made = [
        text(one, frame.column(at, count), frame.bottom + 20, font_size=size, text_anchor="middle")
        for at, one in enumerate(names)
        if at % every == 0
    ]
    if name:
        middle = (frame.left + frame.right) / 2
        made.append(text(name, middle, frame.bottom + 42, font_size=LETTERS, text_anchor="middle"))
    return made


def limit_levels(labels: Labels, lower: Size | None, upper: Size | None) -> list[Level]:
    """The lines of two limits of a spec."""
    found = []
    if upper is not None:
        found.append(Level(upper, labels.text("drawing.upper_limit")))
    if lower is not None:
        found.append(Level(lower, labels.text("drawing.lower_limit")))
    return found


def mark(frame: Frame, value: Value, x: float, told: str) -> list[str]:
    """One value: its mark by its verdict, ± its uncertainty as a span, or its bracket as a bar."""
    made = [tag("title", escaped(told))]
    if value.bracket is not None:
        made += _bracket(frame, value, x)
    elif value.value is not None:
        middle = number(value.value)
        if value.expanded is not None:
            half = number(value.expanded)
            made += whisker(x, frame.y(middle - half), frame.y(middle + half))
        made.append(verdict_mark(value.result, x, frame.y(middle), MARK))
    else:
        made.append(text("–", x, frame.bottom - 8, font_size=TITLE, text_anchor="middle"))
    return [tag("a", *made, href=value.href)] if value.href else [tag("g", *made)]


def whisker(x: float, low: float, high: float) -> list[str]:
    """A span with ends."""
    return [
        thin(x, low, x, high, stroke_width=2, class_="span"),
        thin(x - 7, low, x + 7, low, stroke_width=2),
        thin(x - 7, high, x + 7, high, stroke_width=2),
    ]


def _bracket(frame: Frame, value: Value, x: float) -> list[str]:
    assert value.bracket is not None
    below, above = value.bracket
    low = frame.bottom if below is None else frame.y(number(below))
    high = frame.top if above is None else frame.y(number(above))
    made = [
        tag("rect", x=x - 5, y=high, width=10.0, height=max(low - high, 0.0), fill=INK,
            fill_opacity="0.25", stroke=INK, stroke_width=1.6, class_="bracket")
    ]  # fmt: skip
    for end, y in ((below, low), (above, high)):
        if end is not None:
            made.append(thin(x - 11, y, x + 11, y, stroke_width=3))
    if value.result:
        made.append(verdict_mark(value.result, x + 20, (low + high) / 2, MARK))
    return made


def told(labels: Labels, value: Value, unit: str) -> str:
    """A value in words."""
    if value.bracket is not None:
        low, high = ("…" if one is None else said(one) for one in value.bracket)
        size = f"{low} – {high} {unit}"
    elif value.value is None:
        size = labels.text("drawing.missing")
    else:
        size = f"{said(value.value)} {unit}"
        if value.expanded is not None:
            size = f"{said(value.value)} ± {said(value.expanded)} {unit}"
    words = [labels.named("common.verdict", value.result)] if value.result else []
    return f"{value.label}: {', '.join([size, *words, *([value.note] if value.note else [])])}."


def all_told(labels: Labels, sentences: Sequence[str], levels: Sequence[Level]) -> str:
    """The whole plot in words: its lines, and its values if they are not too many."""
    lines = [f"{_said(one)}." for one in levels]
    if len(sentences) > MOST_SAID:
        return " ".join([*lines, labels.text("drawing.many", count=len(sentences))])
    return " ".join([*lines, *sentences])


def nothing(frame: Frame, labels: Labels) -> str:
    """What stands where there is no value."""
    x, y = (frame.left + frame.right) / 2, (frame.top + frame.bottom) / 2
    said_ = labels.text("drawing.nothing")
    return text(said_, x, y, font_size=TITLE, text_anchor="middle", class_="nothing")


def small(x: float, y: float, r: float = 4.5, *, hollow: bool = False) -> str:
    """A point of a series."""
    return circle(x, y, r, fill="none" if hollow else INK, stroke_width=1.8, class_="mark")


def _said(level: Level) -> str:
    return f"{level.word} {said(level.value)}"
