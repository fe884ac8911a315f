"""Values against their limits: sizes and clearances side by side, and what grew step by step."""

from __future__ import annotations

from collections.abc import Sequence

from api.labels.catalogue import Labels
from api.pictures.plot import (
    MIXED,
    Frame,
    Level,
    all_told,
    band,
    column_labels,
    drawn_levels,
    framed,
    grid,
    head,
    limit_levels,
    mark,
    nothing,
    thin,
    told,
)
from api.pictures.scale import around
from api.pictures.svg import picture, polyline
from api.pictures.values import Line, Size, Value, ends, number


def against_band(
    values: Sequence[Value],
    *,
    labels: Labels,
    title: str,
    unit: str,
    lower: Size | None = None,
    upper: Size | None = None,
    lines: Sequence[Line] = (),
    name: str = "",
    width: int = 720,
    height: int = 400,
    standalone: bool = False,
) -> str:
    """Values against their band, ± their uncertainty, as SVG text. ``name``: what their labels
    count. A value's own limits are drawn across its column."""
    levels = limit_levels(labels, lower, upper)
    levels += [Level(one.value, one.label, MIXED, 1.8) for one in lines]
    numbers = [number(one.value) for one in levels]
    numbers += [one for value in values for one in ends(value)]
    frame = framed(around(numbers, 7), levels, width, height)
    inside = [*head(title, unit), *band(frame, lower, upper), *grid(frame)]
    inside += drawn_levels(frame, levels)
    return _finished(values, frame, inside, levels, labels, title, unit, name,
                     (width, height), standalone)  # fmt: skip


def growth(
    values: Sequence[Value],
    *,
    labels: Labels,
    title: str,
    unit: str,
    name: str = "",
    width: int = 720,
    height: int = 400,
    standalone: bool = False,
) -> str:
    """How a quantity grew as the assembly did, in order, each value within its own limits: a
    turning torque after each piston. Brackets are bars."""
    numbers = [0.0, *(one for value in values for one in ends(value))]
    frame = framed(around(numbers, 7), [], width, height)
    inside = [*head(title, unit), *grid(frame)]
    points = [
        (frame.column(at, len(values)), frame.y(middle))
        for at, value in enumerate(values)
        if (middle := _middle(value)) is not None
    ]
    inside.append(polyline(points, stroke="currentColor", stroke_width=1.6, class_="joined"))
    return _finished(values, frame, inside, [], labels, title, unit, name,
                     (width, height), standalone)  # fmt: skip


def _middle(value: Value) -> float | None:
    if value.bracket is not None:
        known = [number(one) for one in value.bracket if one is not None]
        return sum(known) / len(known) if known else None
    return None if value.value is None else number(value.value)


def _finished(
    values: Sequence[Value],
    frame: Frame,
    inside: list[str],
    levels: Sequence[Level],
    labels: Labels,
    title: str,
    unit: str,
    name: str,
    size: tuple[int, int],
    standalone: bool,
) -> str:
    sentences = [told(labels, value, unit) for value in values]
    inside += [] if values else [nothing(frame, labels)]
    for at, value in enumerate(values):
        x = frame.column(at, len(values))
        half = (frame.right - frame.left) / max(len(values), 1) * 0.42
        for limit in (value.lower, value.upper):
            if limit is not None:
                y = frame.y(number(limit))
                inside.append(thin(x - half, y, x + half, y, stroke_width=2.6, class_="limit"))
        inside += mark(frame, value, x, sentences[at])
    inside += column_labels(frame, [value.label for value in values], name)
    linked = any(value.href for value in values)
    return picture(
        inside, *size, title, all_told(labels, sentences, levels), standalone=standalone,
        linked=linked,
    )  # fmt: skip
