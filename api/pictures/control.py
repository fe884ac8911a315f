"""Control charts: points in order with their centre and control limits, and the spec's limits.

What is a signal is computed elsewhere; here it is only drawn: a point in a ring.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Literal, NamedTuple

from api.labels.catalogue import Labels
from api.pictures.plot import (
    DASHED,
    LETTERS,
    MIXED,
    Frame,
    Level,
    all_told,
    column_labels,
    drawn_levels,
    framed,
    grid,
    head,
    limit_levels,
    nothing,
    small,
    thin,
)
from api.pictures.scale import around
from api.pictures.strokes import circle
from api.pictures.svg import escaped, picture, polyline, tag, text
from api.pictures.values import Size, number, said

Of = Literal["individual", "moving-range", "mean", "range", "deviation"]
RING: Final = 10.0


class Charted(NamedTuple):
    """A point of the chart."""

    label: str
    value: Size | None
    signals: Sequence[str] = ()
    """Why it is out of control, in words."""
    href: str = ""
    left_out: bool = False
    """It is not part of what the limits were computed from."""
    lower: Size | None = None
    upper: Size | None = None
    """Its own control limits, where subgroups are of several sizes."""


def control_chart(
    points: Sequence[Charted],
    *,
    labels: Labels,
    title: str,
    unit: str,
    centre: Size | None = None,
    lower_control: Size | None = None,
    upper_control: Size | None = None,
    lower_limit: Size | None = None,
    upper_limit: Size | None = None,
    of: Of = "individual",
    name: str = "",
    width: int = 900,
    height: int = 400,
    standalone: bool = False,
) -> str:
    """The chart as SVG text. ``of``: what a point is."""
    levels = limit_levels(labels, lower_limit, upper_limit)
    if centre is not None:
        levels.append(Level(centre, labels.text("drawing.centre"), MIXED, 1.8))
    if lower_control is not None:
        levels.append(Level(lower_control, labels.text("drawing.lower_control"), DASHED, 2.2))
    if upper_control is not None:
        levels.append(Level(upper_control, labels.text("drawing.upper_control"), DASHED, 2.2))
    numbers = [number(one.value) for one in levels]
    numbers += [
        number(one)
        for point in points
        for one in (point.value, point.lower, point.upper)
        if one is not None
    ]
    if of in ("moving-range", "range", "deviation"):
        numbers.append(0.0)
    frame = framed(around(numbers, 7), levels, width, height, foot=80)
    what = labels.named("drawing.of", of)
    inside = [*head(title, f"{what}, {unit}"), *grid(frame), *drawn_levels(frame, levels)]
    inside += _own_limits(frame, points)
    inside += _joined(frame, points)
    inside += [] if points else [nothing(frame, labels)]
    sentences = []
    for at, point in enumerate(points):
        sentences.append(_told(labels, point, unit))
        inside += _point(frame, point, frame.column(at, len(points)), sentences[-1])
    inside += column_labels(frame, [point.label for point in points], name)
    inside += _legend(frame, points, labels, height)
    return picture(
        inside, width, height, title, all_told(labels, sentences, levels), standalone=standalone,
        linked=any(point.href for point in points),
    )  # fmt: skip


def _own_limits(frame: Frame, points: Sequence[Charted]) -> list[str]:
    half = (frame.right - frame.left) / max(len(points), 1) / 2
    made = []
    for at, point in enumerate(points):
        x = frame.column(at, len(points))
        for limit in (point.lower, point.upper):
            if limit is not None:
                y = frame.y(number(limit))
                style = {"stroke_width": 2.2, "stroke_dasharray": DASHED, "class_": "limit"}
                made.append(thin(x - half, y, x + half, y, **style))
    return made


def _joined(frame: Frame, points: Sequence[Charted]) -> list[str]:
    """A line through what follows one another without a gap."""
    runs: list[list[tuple[float, float]]] = [[]]
    for at, point in enumerate(points):
        if point.value is None:
            runs.append([])
        elif not point.left_out:
            runs[-1].append((frame.column(at, len(points)), frame.y(number(point.value))))
    style = {"stroke": "currentColor", "stroke_width": 1.5, "class_": "joined"}
    return [polyline(run, **style) for run in runs if len(run) > 1]


def _point(frame: Frame, point: Charted, x: float, told: str) -> list[str]:
    if point.value is None:
        return []
    y = frame.y(number(point.value))
    made = [tag("title", escaped(told)), small(x, y, hollow=point.left_out)]
    if point.signals:
        made.append(circle(x, y, RING, stroke_width=2.6, class_="signal"))
    return [tag("a", *made, href=point.href)] if point.href else [tag("g", *made)]


def _legend(frame: Frame, points: Sequence[Charted], labels: Labels, height: float) -> list[str]:
    """What a ring and a hollow point say, where there are any."""
    made, x, y = [], frame.left + 10, height - 10.0
    if any(point.signals for point in points):
        said_ = labels.text("drawing.signal")
        made += [small(x, y - 5), circle(x, y - 5, RING, stroke_width=2.6)]
        made.append(text(said_, x + 17, y, font_size=LETTERS))
        x += 60 + len(said_) * LETTERS * 0.57
    if any(point.left_out for point in points):
        made.append(small(x, y - 5, hollow=True))
        made.append(text(labels.text("drawing.left_out"), x + 12, y, font_size=LETTERS))
    return made


def _told(labels: Labels, point: Charted, unit: str) -> str:
    if point.value is None:
        return f"{point.label}: {labels.text('drawing.missing')}."
    words = [f"{said(point.value)} {unit}", *point.signals]
    words += [labels.text("drawing.left_out")] if point.left_out else []
    return f"{point.label}: {', '.join(words)}."
