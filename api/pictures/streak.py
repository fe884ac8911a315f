"""A strip for a table: some values in order between their control limits, without letters.

A point in a ring stands out, as on a control chart; it has no verdict.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from api.labels.catalogue import Labels
from api.pictures.plot import thin
from api.pictures.strokes import INK, circle
from api.pictures.svg import picture, polyline, tag
from api.pictures.values import Size, number, said
from api.pictures.verdict import verdict_mark

EDGE = 5.0
RING = 4.6


def streak(
    values: Sequence[Size | None],
    *,
    labels: Labels,
    lower: Size | None = None,
    upper: Size | None = None,
    out: Collection[int] = (),
    title: str = "",
    width: int = 120,
    height: int = 28,
) -> str:
    """Values in order as SVG text, a light ground between the limits; ``out``: which of them stand
    out, counted from 0."""
    low, high = (None if one is None else number(one) for one in (lower, upper))
    numbers = [number(one) for one in values if one is not None]
    every = numbers + [one for one in (low, high) if one is not None]
    least, most = min(every, default=0.0), max(every, default=1.0)
    spread = (most - least) or 1.0

    def y(value: float) -> float:
        return EDGE + (most - value) / spread * (height - 2 * EDGE)

    top = 0.0 if high is None else y(high)
    bottom = float(height) if low is None else y(low)
    inside = []
    if (low, high) != (None, None):
        ground = {"fill": INK, "fill_opacity": "0.14"}
        inside.append(tag("rect", x=0, y=top, width=width, height=max(bottom - top, 0.0), **ground))
        inside += [thin(0, y(one), width, y(one)) for one in (low, high) if one is not None]
    points = [
        (EDGE + (width - 2 * EDGE) * (at + 0.5) / len(values), y(number(one)), at in out)
        for at, one in enumerate(values)
        if one is not None
    ]
    inside.append(polyline([(x, at) for x, at, _ in points], stroke=INK, stroke_width=1.4))
    for x, at, stands_out in points:
        inside.append(verdict_mark("", x, at, 3.2))
        if stands_out:
            inside.append(circle(x, at, RING, stroke_width=1.6, class_="signal"))
    missing, signal = labels.text("drawing.missing"), labels.text("drawing.signal")
    words = [missing if one is None else said(one) for one in values]
    told = ", ".join(f"{one} ({signal})" if at in out else one for at, one in enumerate(words))
    return picture(inside, width, height, title or labels.text("drawing.streak"), told)
