"""A bore map: sizes by depth and direction, one panel for each bore, all on one scale."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

from api.labels.catalogue import Labels
from api.pictures.plot import LETTERS, MARK, POINTED, TITLE, all_told, thin
from api.pictures.scale import Axis, around
from api.pictures.strokes import INK
from api.pictures.svg import escaped, picture, polyline, tag, text
from api.pictures.svg import width as wide
from api.pictures.values import Size, number, said
from api.pictures.verdict import verdict_mark

MOST_BESIDE: Final = 6
"""Panels in one row."""
PANEL: Final = 150.0
GAP: Final = 30.0
OVERHANG: Final = 9.0
"""How far a number below may reach beyond its panel, so that it keeps apart from the next one's."""
HEAD: Final = 96.0
FOOT: Final = 52.0
BETWEEN: Final = 76.0
"""One row of panels and the next."""
STROKES: Final = (None, "9 6", "2 5", "14 5 2 5")
"""One for each direction, over again where there are more."""


class Sized(NamedTuple):
    """A size at a point."""

    number: int
    depth: str
    axis: str
    value: Size | None
    result: str = ""
    href: str = ""
    expanded: Size | None = None


class _Panel(NamedTuple):
    """Where numbers stand in one panel: size across, depth down."""

    across: Axis
    x: float
    wide: float
    top: float
    high: float
    depths: Sequence[str]

    def along(self, value: float) -> float:
        part = (value - self.across.low) / (self.across.high - self.across.low)
        return self.x + part * self.wide

    def down(self, depth: str) -> float:
        return self.top + self.high * (self.depths.index(depth) + 0.5) / len(self.depths)


def bore_map(
    sizes: Sequence[Sized],
    *,
    labels: Labels,
    title: str,
    unit: str,
    lower: Size | None = None,
    upper: Size | None = None,
    nominal: Size | None = None,
    depths: Sequence[str] = (),
    axes: Sequence[str] = (),
    name: str = "",
    width: int | None = None,
    height: int = 420,
    standalone: bool = False,
) -> str:
    """The map as SVG text: the first depth on top, a line for each direction told by its dashes,
    marks by their verdicts. ``height`` of one row of panels; ``name``: what the numbers count."""
    depths = _named(depths, (one.depth for one in sizes))
    axes = _named(axes, (one.axis for one in sizes))
    numbers = sorted({one.number for one in sizes})
    known = [number(one.value) for one in sizes if one.value is not None]
    known += [number(one) for one in (lower, upper, nominal) if one is not None]
    scale = around(known, 4, tight=True)
    sentence = _limits(labels, unit, lower, upper, nominal)
    least = 24 + max(wide(sentence, LETTERS), wide(title, TITLE))
    plan = _plan(numbers, depths, width, height, least)
    with_name = plan.holds(f"{name} {max(numbers, default=0)}")
    inside = _head(title, sentence, axes)
    for at, bore in enumerate(numbers):
        one = plan.panel(at, scale, depths)
        heading = f"{name} {bore}".strip() if with_name else str(bore)
        inside += _ground(one, lower, upper, nominal, heading)
        if at % plan.beside == 0:
            inside += [
                text(depth, one.x - 10, one.down(depth) + 5.5, font_size=LETTERS, text_anchor="end")
                for depth in depths
            ]
        for nth, axis in enumerate(axes):
            here = [size for size in sizes if size.number == bore and size.axis == axis]
            inside += _direction(one, here, nth, labels, unit)
    if name and not with_name:
        middle = (plan.side + plan.wide) / 2
        inside.append(text(name, middle, plan.high - 6, font_size=LETTERS, text_anchor="middle"))
    sentences = [_told(size, labels, unit) for size in sizes]
    return picture(
        inside, plan.wide, plan.high, title, f"{sentence} {all_told(labels, sentences, [])}",
        standalone=standalone, linked=any(size.href for size in sizes),
    )  # fmt: skip


class _Plan(NamedTuple):
    """How the panels stand beside and below each other."""

    wide: float
    high: float
    side: float
    """Left of the panels, for the words of the depths."""
    beside: int
    row: float
    """Height of a panel itself."""

    @property
    def width(self) -> float:
        return (self.wide - self.side) / self.beside - GAP

    def panel(self, at: int, across: Axis, depths: Sequence[str]) -> _Panel:
        row, column = divmod(at, self.beside)
        x = self.side + column * (self.width + GAP)
        top = HEAD + row * (self.row + BETWEEN)
        return _Panel(across, x, self.width, top, self.row, depths)

    def holds(self, heading: str) -> bool:
        """Whether a panel is wide enough for its heading."""
        return wide(heading, LETTERS) * 1.1 <= self.width + GAP / 2


def _plan(
    numbers: Sequence[int], depths: Sequence[str], width: int | None, height: int, least: float
) -> _Plan:
    beside = min(max(len(numbers), 1), MOST_BESIDE)
    side = 20 + max(wide(depth, LETTERS) for depth in depths)
    whole = float(width or max(side + beside * (PANEL + GAP), least))
    row = height - HEAD - FOOT
    rows = -(-len(numbers) // beside) or 1
    return _Plan(whole, height + (rows - 1) * (row + BETWEEN), side, beside, row)


def _named(stated: Sequence[str], found: Iterable[str]) -> list[str]:
    return list(dict.fromkeys((*stated, *found))) or [""]


def _head(title: str, sentence: str, axes: Sequence[str]) -> list[str]:
    """The title, the limits in words, and which line is which direction."""
    made = [text(title, 8.0, 24.0, font_size=TITLE, font_weight=700)]
    made.append(text(sentence, 8.0, 46.0, font_size=LETTERS))
    x = 8.0
    for at, axis in enumerate(axes):
        if axis:
            made.append(_stroke([(x, 63), (x + 44, 63)], at))
            made.append(text(axis, x + 52, 68.0, font_size=LETTERS))
            x += 76 + wide(axis, LETTERS)
    return made


def _limits(
    labels: Labels, unit: str, lower: Size | None, upper: Size | None, nominal: Size | None
) -> str:
    words = [
        f"{labels.text(key)} {said(size)} {unit}"
        for key, size in (
            ("drawing.lower_limit", lower),
            ("drawing.upper_limit", upper),
            ("drawing.nominal", nominal),
        )
        if size is not None
    ]
    return f"{', '.join(words)}." if words else ""


def _ground(
    panel: _Panel, lower: Size | None, upper: Size | None, nominal: Size | None, name: str
) -> list[str]:
    bottom = panel.top + panel.high
    left = panel.x if lower is None else panel.along(number(lower))
    right = panel.x + panel.wide if upper is None else panel.along(number(upper))
    made = [text(name, panel.x + panel.wide / 2, panel.top - 8, font_size=LETTERS,
                 font_weight=700, text_anchor="middle")]  # fmt: skip
    if (lower, upper) != (None, None):
        made.append(
            tag("rect", x=left, y=panel.top, width=max(right - left, 0.0), height=panel.high,
                fill=INK, fill_opacity="0.08")
        )  # fmt: skip
    for depth in panel.depths:
        y = panel.down(depth)
        made.append(thin(panel.x, y, panel.x + panel.wide, y, stroke_opacity="0.22"))
    made += _ticks(panel, bottom)
    frame = {"x": panel.x, "y": panel.top, "width": panel.wide, "height": panel.high}
    made.append(tag("rect", **frame, fill="none", stroke=INK))
    for size, dashes, thick in ((lower, None, 3.0), (upper, None, 3.0), (nominal, POINTED, 1.8)):
        if size is not None:
            x = panel.along(number(size))
            style = {"stroke_width": thick, "stroke_dasharray": dashes, "class_": "level"}
            made.append(thin(x, panel.top, x, bottom, **style))
    return made


def _ticks(panel: _Panel, bottom: float) -> list[str]:
    """Numbers below a panel: the outermost two, and those between that have room."""
    size = LETTERS - 2
    last = len(panel.across.ticks) - 1
    made: list[str] = []
    taken: list[tuple[float, float]] = []
    for at in sorted(range(last + 1), key=lambda at: 0 < at < last):
        x, label = panel.along(panel.across.ticks[at]), panel.across.labels[at]
        made.append(thin(x, bottom, x, bottom + 6))
        half = wide(label, size) / 2
        # An outer number may stand a little beside its mark.
        least, most = panel.x - OVERHANG + half, panel.x + panel.wide + OVERHANG - half
        middle = min(max(x, least), most)
        ends = (middle - half - 3, middle + half + 3)
        if all(ends[1] <= low or high <= ends[0] for low, high in taken):
            taken.append(ends)
            made.append(text(label, middle, bottom + 22, font_size=size, text_anchor="middle"))
    return made


def _direction(
    panel: _Panel, sizes: Sequence[Sized], nth: int, labels: Labels, unit: str
) -> list[str]:
    known = [one for one in sizes if one.value is not None]
    known.sort(key=lambda one: panel.depths.index(one.depth))
    points = [
        (panel.along(number(one.value)), panel.down(one.depth))
        for one in known
        if one.value is not None
    ]
    made = [_stroke(points, nth)] if len(points) > 1 else []
    for one, (x, y) in zip(known, points, strict=True):
        inside = [tag("title", escaped(_told(one, labels, unit)))]
        if one.expanded is not None and one.value is not None:
            half = number(one.expanded)
            ends = panel.along(number(one.value) - half), panel.along(number(one.value) + half)
            inside.append(thin(ends[0], y, ends[1], y, stroke_width=2, class_="span"))
        inside.append(verdict_mark(one.result, x, y, MARK - 1))
        made.append(tag("a", *inside, href=one.href) if one.href else tag("g", *inside))
    return made


def _stroke(points: Sequence[tuple[float, float]], nth: int) -> str:
    dashes = STROKES[nth % len(STROKES)]
    return polyline(points, stroke=INK, stroke_width=2.2, stroke_dasharray=dashes, class_="joined")


def _told(one: Sized, labels: Labels, unit: str) -> str:
    where = " ".join(word for word in (str(one.number), one.depth, one.axis) if word)
    if one.value is None:
        return f"{where}: {labels.text('drawing.missing')}."
    words = [f"{said(one.value)} {unit}"]
    words += [labels.named("common.verdict", one.result)] if one.result else []
    return f"{where}: {', '.join(words)}."
