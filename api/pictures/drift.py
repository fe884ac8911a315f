"""How an instrument's zero moved over time, with its calibrations."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Final, NamedTuple

from api.labels.catalogue import Labels
from api.pictures.flags import Flag, flags
from api.pictures.plot import (
    LETTERS,
    POINTED,
    ROW,
    Frame,
    Level,
    all_told,
    band,
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
from api.pictures.svg import picture, polyline, text
from api.pictures.values import Size, Value, ends, number

INTERVALS: Final = (
    timedelta(minutes=1), timedelta(minutes=5), timedelta(minutes=15), timedelta(hours=1),
    timedelta(hours=6), timedelta(days=1), timedelta(days=2), timedelta(days=7),
    timedelta(days=14), timedelta(days=28), timedelta(days=56), timedelta(days=91),
    timedelta(days=182), timedelta(days=364), timedelta(days=1820),
)  # fmt: skip
"""Between dates below the plot."""
ROWS_MOST: Final = 4
"""Of names above the plot: a gauge that is set anew every day would leave no room for the plot."""


class Check(NamedTuple):
    """A zero check. ``at`` as in the record (RFC 3339)."""

    at: str
    value: Size | None
    expanded: Size | None = None
    result: str = ""
    href: str = ""


class Moment(NamedTuple):
    """Something that happened to the instrument: calibrated, set anew. A date or RFC 3339."""

    at: str
    label: str


class _Times(NamedTuple):
    start: datetime
    end: datetime

    def x(self, at: str, frame: Frame) -> float:
        part = (moment(at) - self.start) / (self.end - self.start)
        return frame.left + 16 + part * (frame.right - frame.left - 32)


def drift_chart(
    checks: Sequence[Check],
    *,
    labels: Labels,
    title: str,
    unit: str,
    moments: Sequence[Moment] = (),
    lower: Size | None = None,
    upper: Size | None = None,
    width: int = 900,
    height: int = 360,
    standalone: bool = False,
) -> str:
    """Zero checks over time as SVG text, ± their uncertainty; ``lower`` and ``upper``: the drift
    that is allowed."""
    values = [
        Value(_stamp(one.at), one.value, one.expanded, result=one.result, href=one.href)
        for one in checks
    ]
    levels: list[Level] = [Level("0", "", POINTED, 1.8), *limit_levels(labels, lower, upper)]
    numbers = [number(one.value) for one in levels]
    numbers += [one for value in values for one in ends(value)]
    times = _times([one.at for one in checks] + [one.at for one in moments])
    frame = framed(around(numbers, 6), levels, width, height)
    named = flags(
        [(times.x(one.at, frame), one.label) for one in moments],
        LETTERS,
        float(frame.right),
        ROWS_MOST,
    )
    rows = 1 + max((flag.row for flag in named), default=-1)
    frame = frame._replace(top=frame.top + rows * ROW)
    inside = [*head(title, unit), *band(frame, lower, upper), *grid(frame)]
    inside += drawn_levels(frame, levels) + _dates(frame, times)
    inside += _moments(frame, named)
    points = [
        (times.x(one.at, frame), frame.y(number(one.value)))
        for one in checks
        if one.value is not None
    ]
    inside.append(polyline(points, stroke="currentColor", stroke_width=1.3, class_="joined"))
    inside += [] if checks else [nothing(frame, labels)]
    sentences = [told(labels, value, unit) for value in values]
    for check, value, sentence in zip(checks, values, sentences, strict=True):
        inside += mark(frame, value, times.x(check.at, frame), sentence)
    sentences += [f"{_stamp(one.at)}: {one.label}." for one in moments]
    return picture(
        inside, width, height, title, all_told(labels, sentences, levels[1:]),
        standalone=standalone, linked=any(one.href for one in checks),
    )  # fmt: skip


def _moments(frame: Frame, named: Sequence[Flag]) -> list[str]:
    """What happened to the instrument: a line down from its word, where there is room for it."""
    made = []
    for flag in named:
        foot = frame.top - ROW * flag.row - 6
        style = {"stroke_width": 1.8, "stroke_dasharray": "7 4", "class_": "moment"}
        top = frame.top if flag.row < 0 else foot - 12
        made.append(thin(flag.x, top, flag.x, frame.bottom, **style))
        if flag.row < 0:
            continue
        anchor = "end" if flag.left else "start"
        x = flag.x + (-6 if flag.left else 6)
        made.append(text(flag.label, x, foot, font_size=LETTERS, text_anchor=anchor))
    return made


def moment(at: str) -> datetime:
    """A moment of the record; UTC where it does not say. Raises ValueError."""
    found = datetime.fromisoformat(at)
    return found.replace(tzinfo=UTC) if found.tzinfo is None else found.astimezone(UTC)


def _stamp(at: str) -> str:
    return moment(at).strftime("%Y-%m-%d %H:%M") if "T" in at or " " in at else at


def _times(every: Sequence[str]) -> _Times:
    found = [moment(at) for at in every] or [datetime(2000, 1, 1, tzinfo=UTC)]
    start, end = min(found), max(found)
    if end - start < timedelta(minutes=2):
        start, end = start - timedelta(minutes=1), end + timedelta(minutes=1)
    return _Times(start, end)


def _dates(frame: Frame, times: _Times) -> list[str]:
    """Dates (or times, within a few days) below the plot."""
    lasts = times.end - times.start
    most = max(2, int((frame.right - frame.left) / 130))
    between = next((one for one in INTERVALS if lasts / one <= most), INTERVALS[-1] * 4)
    form = "%Y-%m-%d" if between >= timedelta(days=1) else "%m-%d %H:%M"
    zero = datetime(2000, 1, 1, tzinfo=UTC)
    at = zero + between * -((zero - times.start) // between)
    made = []
    while at <= times.end:
        x = times.x(at.isoformat(), frame)
        made.append(thin(x, frame.bottom, x, frame.bottom + 6))
        said = at.strftime(form)
        made.append(text(said, x, frame.bottom + 22, font_size=LETTERS, text_anchor="middle"))
        at += between
    middle = (frame.left + frame.right) / 2
    return [*made, text("UTC", middle, frame.bottom + 44, font_size=LETTERS, text_anchor="middle")]
