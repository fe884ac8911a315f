"""The sheet's pictures: bore maps, clearances in their bands, turning, bolts, torque traces."""

from __future__ import annotations

import re
from html import unescape

from api.pages.build_pictures import bore_map_of, growths_of, pattern_of
from api.pictures.against import against_band
from api.pictures.marks import marks_of
from api.pictures.pull import Limited, pull
from api.pictures.values import Line, Value
from api.sheet.blocks import Block, Figure, Heading, Section, Text
from api.sheet.gather import Material
from api.sheet.say import Say
from capture.errors import UnitError
from capture.inquiry.glance import shape as seen
from capture.quantity import convert
from capture.trace.store import expand

WIDTH, HEIGHT = 460, 270
"""Of a picture that stands beside another: its letters are as large as those of the text."""
LETTERS = 48
"""Of a title that fits above it."""
NUMBERS = 24
"""Values in one of them."""
SAMPLES = 500_000
"""Of a trace that is drawn: some minutes at a thousand a second."""
MOST = 60
"""Pictures of derived quantities: those of an engine are fewer."""
WORDS = re.compile(r"<(title|desc)[^>]*>(.*?)</\1>", re.DOTALL)


def figures(material: Material, say: Say) -> Section | None:
    """Sizes by depth and direction, and derived quantities against their bands."""
    looked = material.glance
    blocks: list[Block] = []
    maps = [bore_map_of(table, say.labels) for table in looked.sizes.shown]
    blocks += [_figure(svg, True) for svg in maps if svg is not None]
    wanted = [one for one in looked.derived.shown if _worth(one)]
    blocks += [_figure(_in_band(one, say), False) for one in wanted[:MOST]]
    if not blocks:
        return None
    title = say.text("sheet.figures.title")
    return Section("figures", title, (Text(say.text("sheet.figures.about")), *blocks))


def _worth(one: seen.Derived) -> bool:
    """Whether a picture says more than its table: several values of what two sizes make."""
    known = [row for row in one.rows.shown if row.value is not None]
    return one.quantity in ("clearance", "formula") and len(known) > 1


def _in_band(one: seen.Derived, say: Say) -> str:
    values = [
        Value(str(row.number), row.value, expanded=row.expanded, result=row.result)
        for row in one.rows.shown[:NUMBERS]
    ]
    target = [] if one.target is None else [Line(one.target, say.text("sheet.figures.target"))]
    return against_band(
        values,
        labels=say.labels,
        title=one.title if len(one.title) <= LETTERS else f"{one.title[: LETTERS - 1]}…",
        unit=say.unit(one.unit),
        lower=one.limits.lower,
        upper=one.limits.upper,
        lines=target,
        name=one.part_title,
        width=WIDTH,
        height=HEIGHT,
    )


def turned(material: Material, say: Say) -> tuple[Block, ...]:
    """Turning torque as the assembly grew."""
    found = growths_of(material.glance.turning.shown, say.labels)
    return tuple(_figure(svg, True) for svg in found)


def patterns(material: Material, say: Say) -> tuple[Block, ...]:
    """The fasteners in their pattern, with the verdict on each."""
    tables = material.glance.fasteners.shown
    found = [(pattern_of(material.spec, table, say.labels), table.title) for table in tables]
    return tuple(_figure(svg, False, title) for svg, title in found if svg is not None)


def traces(material: Material, say: Say) -> tuple[Block, ...]:
    """Every pull that was recorded sample by sample."""
    made: list[Block] = []
    for trace, title, limits, unit in _wanted(material, say):
        blob, reading = material.traces.get(trace.reading), material.readings[trace.reading]
        if blob is None or reading["trace"]["samples"] > SAMPLES:
            continue
        samples = expand(blob)
        found = reading["trace"]["found"]
        why = (reading["trace"].get("incomplete") or {}).get("why", "")
        marks = marks_of(samples, turning=found["kind"] == "turning", incomplete=why)
        about = say.about(
            f"{reading['value']} {reading['unit']}",
            say.limits(limits, unit),
            *(spot.label for spot in marks.spots),
            *marks.sentences,
            marks.incomplete,
        )
        band = _band(limits, unit, samples.unit)
        try:
            svg = pull(samples, marks, band, labels=say.labels, title=title, about=about)
        except ValueError:
            continue  # stored as it came, and not to be read as a trace
        made.append(_figure(svg, False))
    left = sum("trace" in material.readings[seq] for seq in material.counting) - len(made)
    if left:
        made.append(Text(say.text("sheet.traces.left", count=left)))
    if not made:
        return ()
    return (Heading(say.text("sheet.traces.title")), Text(say.text("sheet.traces.about")), *made)


def _wanted(material: Material, say: Say) -> list[tuple[seen.Trace, str, seen.Limited | None, str]]:
    """Each trace with its title, its limits and their unit, in the order they were taken."""
    found = []
    for table in material.glance.fasteners.shown:
        spots = {spot.id: spot for spot in table.spots.shown}
        for trace in table.traces:
            spot = spots[trace.point]
            place = say.place(table.part, trace.number)
            found.append((trace, _title(place, trace, say), spot.limits, spot.unit))
    for one in material.glance.turning.shown:
        if one.trace is not None:
            place = one.title if one.part is None else say.place(one.part, one.number)
            found.append((one.trace, _title(place, one.trace, say), one.limits, one.unit))
    return sorted(found, key=lambda each: each[0].reading)


def _title(place: str, trace: seen.Trace, say: Say) -> str:
    return say.text("sheet.traces.one", place=place, reading=trace.reading)


def _band(limits: seen.Limited | None, unit: str, of: str) -> Limited:
    """Limits as numbers in the trace's unit. A torque trace shows no limits of an angle."""
    from decimal import Decimal

    if limits is None:
        return Limited(None, None)
    try:
        lower, upper = (
            None if one is None else float(convert(Decimal(one), unit, of)) for one in limits
        )
    except UnitError:
        return Limited(None, None)
    return Limited(lower, upper)


def _figure(svg: str, wide: bool, caption: str = "") -> Figure:
    """A picture with the words that it carries for those who do not see it."""
    said = {name: unescape(words) for name, words in WORDS.findall(svg)}
    title, told = said.get("title", ""), said.get("desc", "")
    return Figure(str(svg), f"{title}. {told}" if told else title, caption, wide)
