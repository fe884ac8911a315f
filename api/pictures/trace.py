"""The picture of a torque trace: torque over time, with what its analysis found.

Drawn for paper as well: marks differ in shape, lines in their dashes, nothing by colour alone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from api.pictures.flags import Flag, flags
from api.pictures.marks import Marks, Span, Spot
from api.pictures.scale import Axis, axis, scaled_all
from api.pictures.svg import FONT, escaped, polyline, tag, text, width
from api.pictures.thin import thinned
from capture.trace.finding import said

if TYPE_CHECKING:
    from capture.trace.samples import Arrays, Floats, Trace

WIDTH: Final = 1200
HEIGHT: Final = 720
LEFT: Final = 110
RIGHT: Final = 1160
RIGHT_OF_ANGLE: Final = 1080
TOP: Final = 96
BOTTOM: Final = 626
PAD: Final = 16
"""Between the frame and the ends of the torque's axis."""
ROW: Final = 28
SIZE: Final = 19
INK: Final = "#14171c"
PAPER: Final = "#fffdf6"
FAINT: Final = "#454b55"
GRID: Final = "#c9c3b3"
MARK: Final = "#ffc400"
LONGEST: Final = 60
"""Letters of a title, and of why a trace is not whole, that fit."""
INCOMPLETE: Final = "INCOMPLETE"


def draw(trace: Trace, marks: Marks, *, title: str, note: str = "") -> str:
    """The picture as SVG text, under 200 kB for any number of samples.

    ``note`` stands below it. Raises ValueError where the samples cannot be read (see
    ``capture.trace.samples.arrays``).
    """
    from capture.trace.samples import arrays

    return _Picture(arrays(trace), marks, trace.unit, _short(title), _short(note)).svg()


class _Frame(NamedTuple):
    """Where numbers stand in the picture."""

    across: Axis
    up: Axis
    left: float
    right: float
    top: float
    bottom: float

    def x(self, seconds: float) -> float:
        return self.left + self.along(self.across.shown(seconds)) * (self.right - self.left)

    def along(self, shown: float) -> float:
        return (shown - self.across.low) / (self.across.high - self.across.low)

    def y(self, value: float) -> float:
        return self.at_height(self.up.shown(value))

    def at_height(self, shown: float) -> float:
        part = (shown - self.up.low) / (self.up.high - self.up.low)
        return self.bottom - PAD - part * (self.bottom - self.top - 2 * PAD)


class _Picture(NamedTuple):
    """A picture being drawn."""

    data: Arrays
    marks: Marks
    unit: str
    title: str
    note: str

    def svg(self) -> str:
        torque = self.marks.sign * (self.data.torque - self.marks.zero)
        right = float(RIGHT if self.data.angle is None else RIGHT_OF_ANGLE)
        # A torn edge needs room behind the last sample.
        room = 1.04 if self.marks.cut else 1.0
        across = axis(self.data.seconds[-1:] * room, 10, tight=True)
        up = axis(torque, 7)
        frame = _Frame(across, up, LEFT, right, TOP, BOTTOM)
        named = flags(
            [(frame.x(self._since(one.at)), one.label) for one in self.marks.spots], SIZE, right
        )
        rows = 1 + max((flag.row for flag in named), default=-1)
        frame = frame._replace(top=TOP + ROW * (rows + len(self.marks.spans)) + 12.0)
        told = " ".join((self._about(), self.marks.incomplete, *self.marks.sentences))
        leaders, names = self._spots(frame, named)
        inside = (
            tag("title", escaped(self.title), id="title"),
            tag("desc", escaped(told), id="said"),
            tag("rect", width=WIDTH, height=HEIGHT, fill=PAPER),
            *self._head(),
            *_grid(frame, self.unit, drawn="torque above rest"),
            *self._angle(frame),
            *leaders,
            self._line(frame, torque),
            *self._level(frame),
            *self._spans(frame, rows),
            *names,
            *self._torn(frame),
        )
        return tag(
            "svg", *inside, xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {WIDTH} {HEIGHT}",
            role="img", aria_labelledby="title said", font_family=FONT, font_size=SIZE, fill=INK,
        )  # fmt: skip

    def _since(self, at: float) -> float:
        """Seconds since the first sample."""
        return at - self.data.start

    def _about(self) -> str:
        rest = said(self.marks.zero, self.unit).replace("-", "−")
        turned = "; the torque is drawn turned over" if self.marks.sign < 0 else ""
        return f"0 is the resting zero, {rest} as sent{turned}."

    def _head(self) -> list[str]:
        made = [
            text(self.title, LEFT, 42, font_size=27, font_weight=700),
            text(self._about(), LEFT, 72, fill=FAINT),
        ]
        if self.note:
            made.append(text(self.note, LEFT, HEIGHT - 14, font_weight=700))
        if self.marks.incomplete:
            wide = width(INCOMPLETE, SIZE) * 1.2 + 24
            box = {"fill": MARK, "stroke": INK, "stroke_width": 2.5}
            made.append(tag("rect", x=RIGHT - wide, y=48, width=wide, height=32, **box))
            middle = {"text_anchor": "middle", "font_weight": 700}
            made.append(text(INCOMPLETE, RIGHT - wide / 2, 71, **middle))
            why = _short(self.marks.incomplete)
            made.append(text(why, RIGHT, HEIGHT - 14, text_anchor="end", font_weight=700))
        return made

    def _line(self, frame: _Frame, torque: Floats) -> str:
        import numpy as np

        keep = [
            int(np.argmin(np.abs(self.data.seconds - self._since(s.at)))) for s in self.marks.spots
        ]
        points = _points(frame, self.data.seconds, torque, keep)
        return polyline(points, stroke=INK, stroke_width=2.6, stroke_linejoin="round", id="torque")

    def _angle(self, frame: _Frame) -> list[str]:
        if self.data.angle is None:
            return []
        turned = self.data.angle - self.data.angle[0]
        beside = frame._replace(up=axis(turned, 7))
        points = _points(beside, self.data.seconds, turned, ())
        dashes = {"stroke": FAINT, "stroke_width": 2.2, "stroke_dasharray": "9 6"}
        made = [polyline(points, id="angle", **dashes)]
        for at, label in zip(beside.up.ticks, beside.up.labels, strict=True):
            y = beside.at_height(at)
            made.append(_line(frame.right, y, frame.right + 8, y))
            made.append(text(label, frame.right + 13, y + 6.5))
        name = f"angle, {beside.up.unit('°')} (dashes)"
        return [*made, _upright(name, WIDTH - 22, (frame.top + frame.bottom) / 2)]

    def _level(self, frame: _Frame) -> list[str]:
        """What is marked all across a span: drawn over the first one."""
        if self.marks.level is None or not self.marks.spans:
            return []
        y, span = frame.y(self.marks.level), self.marks.spans[0]
        ends = [frame.x(self._since(at)) for at in (span.start, span.end)]
        halo = _line(ends[0], y, ends[1], y, stroke=PAPER, stroke_width=5)
        return [halo, _line(ends[0], y, ends[1], y, stroke_width=2.2, stroke_dasharray="14 5 3 5")]

    def _spots(self, frame: _Frame, named: list[Flag]) -> tuple[list[str], list[str]]:
        lines, names = [], []
        for spot, flag in zip(self.marks.spots, named, strict=True):
            y = frame.y(spot.torque)
            foot = TOP + ROW * (max((one.row for one in named), default=0) - flag.row + 1)
            lines.append(_line(flag.x, foot - 20, flag.x, y, stroke=FAINT, stroke_dasharray="2 4"))
            names.append(_shape(spot, flag.x, y))
            x, anchor = (flag.x - 7, "end") if flag.left else (flag.x + 7, "start")
            names += _name(spot.label, x, foot - 5, anchor, font_weight=700)
        return lines, names

    def _spans(self, frame: _Frame, rows: int) -> list[str]:
        made = []
        for n, span in enumerate(self.marks.spans):
            y = TOP + ROW * (rows + n) + 14.0
            made += self._span(frame, span, y)
        return made

    def _span(self, frame: _Frame, span: Span, y: float) -> list[str]:
        start, end = (frame.x(self._since(at)) for at in (span.start, span.end))
        made = [_line(start, y, end, y, stroke_width=2.2)]
        made += [_line(x, y - 8, x, y + 8, stroke_width=2.2) for x in (start, end)]
        wide = width(span.label, SIZE)
        if wide + 40 < end - start:
            return made + _name(span.label, (start + end) / 2, y + 6.5, "middle")
        if start - wide - 12 > frame.left:
            return made + _name(span.label, start - 10, y + 6.5, "end")
        return made + _name(span.label, end + 12, y + 6.5)

    def _torn(self, frame: _Frame) -> list[str]:
        """A torn edge where the trace ends too soon."""
        if not self.marks.cut:
            return []
        x, teeth = frame.x(float(self.data.seconds[-1])) + 24, 24
        high = (frame.bottom - frame.top) / teeth
        edge = [(x + (7 if n % 2 else -7), frame.top + n * high) for n in range(teeth + 1)]
        return [
            polyline(edge, stroke=PAPER, stroke_width=7),
            polyline(edge, stroke=INK, stroke_width=2.2),
        ]


def _name(name: str, x: float, y: float, anchor: str = "start", **attributes: object) -> list[str]:
    """A text that hides the lines behind it."""
    wide = width(name, SIZE)
    start = x - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
    behind = tag("rect", x=start - 4, y=y - 17, width=wide + 8, height=22, fill=PAPER)
    return [behind, text(name, x, y, text_anchor=anchor, **attributes)]


def _points(
    frame: _Frame, seconds: Floats, values: Floats, keep: list[int] | tuple[int, ...]
) -> list[tuple[float, float]]:
    """The thinned line in the picture."""
    along = scaled_all(seconds, -frame.across.power) - frame.across.low
    along /= frame.across.high - frame.across.low
    shown = scaled_all(values, -frame.up.power)
    chosen = thinned(along, shown, round(frame.right - frame.left), keep)
    xs = frame.left + along[chosen] * (frame.right - frame.left)
    ys = [frame.at_height(height) for height in shown[chosen].tolist()]
    return list(zip(xs.tolist(), ys, strict=True))


def _short(said: str) -> str:
    return said if len(said) <= LONGEST else f"{said[: LONGEST - 1]}…"


def _grid(frame: _Frame, unit: str, drawn: str) -> list[str]:
    made = []
    for at, label in zip(frame.up.ticks, frame.up.labels, strict=True):
        y = frame.at_height(at)
        strong = {"stroke": INK, "stroke_width": 2.2} if at == 0 else {"stroke": GRID}
        made.append(_line(frame.left, y, frame.right, y, **strong))
        made.append(text(label, frame.left - 11, y + 6.5, text_anchor="end"))
    for at, label in zip(frame.across.ticks, frame.across.labels, strict=True):
        x = frame.left + frame.along(at) * (frame.right - frame.left)
        made.append(_line(x, frame.top, x, frame.bottom, stroke=GRID))
        made.append(text(label, x, frame.bottom + 25, text_anchor="middle"))
    sides = {"x": frame.left, "y": frame.top, "fill": "none", "stroke": INK, "stroke_width": 1.2}
    made.append(
        tag("rect", width=frame.right - frame.left, height=frame.bottom - frame.top, **sides)
    )
    middle = (frame.left + frame.right) / 2
    name = f"time since the first sample, {frame.across.unit('s')}"
    made.append(text(name, middle, frame.bottom + 52, text_anchor="middle"))
    high = (frame.top + frame.bottom) / 2
    return [*made, _upright(f"{drawn}, {frame.up.unit(unit)}", 30, high)]


def _upright(name: str, x: float, y: float) -> str:
    return text(name, x, y, text_anchor="middle", transform=f"rotate(-90 {x} {y:.1f})")


def _line(x1: float, y1: float, x2: float, y2: float, **attributes: object) -> str:
    kept = {"stroke": INK, "stroke_width": 1.2, **attributes}
    return tag("line", x1=float(x1), y1=float(y1), x2=float(x2), y2=float(y2), **kept)


def _shape(spot: Spot, x: float, y: float) -> str:
    drawn = {"stroke": INK, "stroke_width": 2.4}
    if spot.shape == "ring":
        return tag("circle", cx=x, cy=y, r=8, fill=MARK, **drawn)
    if spot.shape == "triangle":
        corners = f"{x:.1f},{y - 9:.1f} {x + 9:.1f},{y + 7:.1f} {x - 9:.1f},{y + 7:.1f}"
        return tag("polygon", points=corners, fill=PAPER, **drawn)
    return tag("rect", x=x - 7, y=y - 7, width=14, height=14, fill=PAPER, **drawn)
