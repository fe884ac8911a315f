"""A small picture of a pull or a turning test, for many beside each other on paper: torque over
time against its limits, with its clicks and peaks. ``api.pictures.trace`` draws one large."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from api.pictures.scale import Axis, axis, scaled_all
from api.pictures.svg import FONT, escaped, polyline, tag, text
from api.pictures.thin import thinned

if TYPE_CHECKING:
    from api.labels.catalogue import Labels
    from api.pictures.marks import Marks, Spot
    from capture.trace.samples import Arrays, Floats, Trace

WIDTH: Final = 420
HEIGHT: Final = 236
LEFT: Final = 46
RIGHT: Final = 410
TOP: Final = 30
BOTTOM: Final = 192
SIZE: Final = 13
INK: Final = "currentColor"


class Limited(NamedTuple):
    """Limits in the trace's unit; None where there is none or it is not known in this unit."""

    lower: float | None
    upper: float | None


def pull(
    trace: Trace, marks: Marks, limited: Limited, *, labels: Labels, title: str, about: str
) -> str:
    """SVG text in ``currentColor``. ``title`` stands above it, ``about`` is told to who does not
    see it. Raises ValueError where the samples cannot be read."""
    from capture.trace.samples import arrays

    return _Small(arrays(trace), marks, limited, trace.unit, labels).svg(title, about)


class _Small(NamedTuple):
    data: Arrays
    marks: Marks
    limited: Limited
    unit: str
    labels: Labels

    def svg(self, title: str, about: str) -> str:
        torque = self.marks.sign * (self.data.torque - self.marks.zero)
        levels = [one for one in self.limited if one is not None]
        up = axis([*levels, float(torque.max()), float(torque.min())], 5)
        across = axis(self.data.seconds[-1:], 6, tight=True)
        inside = (
            tag("title", escaped(title)),
            tag("desc", escaped(about)),
            text(title, 4, 17, font_weight=700),
            *self._frame(across, up),
            *self._limits(up),
            self._line(across, up, torque),
            *self._spots(across, up),
        )
        return tag(
            "svg", *inside, xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {WIDTH} {HEIGHT}",
            role="img", font_family=FONT, font_size=SIZE, fill=INK,
        )  # fmt: skip

    def _frame(self, across: Axis, up: Axis) -> list[str]:
        made = []
        for at, label in zip(up.ticks, up.labels, strict=True):
            y = _y(up, at)
            made.append(_line(LEFT, y, RIGHT, y, stroke_opacity=0.25))
            made.append(text(label, LEFT - 6, y + 4.5, text_anchor="end"))
        for at, label in zip(across.ticks, across.labels, strict=True):
            x = _x(across, at)
            made.append(_line(x, BOTTOM, x, BOTTOM + 4))
            made.append(text(label, x, BOTTOM + 18, text_anchor="middle"))
        made.append(_line(LEFT, BOTTOM, RIGHT, BOTTOM))
        said = self.labels.text(
            "sheet.traces.axes", torque=up.unit(self.unit), time=across.unit("s")
        )
        return [*made, text(said, RIGHT, HEIGHT - 6, text_anchor="end")]

    def _limits(self, up: Axis) -> list[str]:
        """The band that it must end in, by two dashed lines."""
        levels = (up.shown(one) for one in self.limited if one is not None)
        dashes = {"stroke_width": 1.4, "stroke_dasharray": "7 4"}
        return [_line(LEFT, _y(up, one), RIGHT, _y(up, one), **dashes) for one in levels]

    def _line(self, across: Axis, up: Axis, torque: Floats) -> str:
        along = scaled_all(self.data.seconds, -across.power) - across.low
        along = along / (across.high - across.low)
        shown = scaled_all(torque, -up.power)
        chosen = thinned(along, shown, (RIGHT - LEFT) // 2)
        points = [
            (LEFT + part * (RIGHT - LEFT), _y(up, high))
            for part, high in zip(along[chosen].tolist(), shown[chosen].tolist(), strict=True)
        ]
        return polyline(points, stroke=INK, stroke_width=1.6, stroke_linejoin="round")

    def _spots(self, across: Axis, up: Axis) -> list[str]:
        """The first click as a ring, every other point as a triangle."""
        return [
            _mark(
                spot,
                _x(across, across.shown(spot.at - self.data.start)),
                _y(up, up.shown(spot.torque)),
            )
            for spot in self.marks.spots
        ]


def _x(across: Axis, shown: float) -> float:
    return LEFT + (shown - across.low) / (across.high - across.low) * (RIGHT - LEFT)


def _y(up: Axis, shown: float) -> float:
    return BOTTOM - (shown - up.low) / (up.high - up.low) * (BOTTOM - TOP)


def _line(x1: float, y1: float, x2: float, y2: float, **attributes: object) -> str:
    kept = {"stroke": INK, "stroke_width": 1, **attributes}
    return tag("line", x1=float(x1), y1=float(y1), x2=float(x2), y2=float(y2), **kept)


def _mark(spot: Spot, x: float, y: float) -> str:
    drawn = {"stroke": INK, "stroke_width": 1.6, "fill": "none"}
    if spot.shape == "ring":
        return tag("circle", cx=x, cy=y, r=5.5, **drawn)
    return tag(
        "polygon",
        points=f"{x:.1f},{y - 6:.1f} {x + 6:.1f},{y + 5:.1f} {x - 6:.1f},{y + 5:.1f}",
        **drawn,
    )
