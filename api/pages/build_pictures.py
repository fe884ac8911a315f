"""The drawings of a build page, made from the values of a glance."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from markupsafe import Markup

from api.labels.catalogue import Labels
from api.pictures.against import against_band, growth
from api.pictures.bore_map import Sized, bore_map
from api.pictures.drawing import draw_pattern
from api.pictures.values import Line, Value
from capture.inquiry.glance.shape import Cell, Derived, Table, Turned
from capture.spec.model import Spec

NUMBERS_MOST = 12
"""Panels of a bore map."""
COLUMNS_MOST = 32
"""Values beside each other: more are told apart no longer."""
FASTENERS_MOST = 64


def bore_map_of(table: Table, labels: Labels) -> Markup | None:
    """Size by depth and direction, number by number; None where there are not two depths, and where
    the limits follow from another size."""
    depths = list(dict.fromkeys(spot.depth for spot in table.spots.shown))
    axes = list(dict.fromkeys(spot.axis for spot in table.spots.shown))
    if len(depths) < 2 or table.limits is None:
        return None
    sizes = [
        Sized(
            row.number, spot.depth, spot.axis, cell.value, cell.result, _href(cell), cell.expanded
        )
        for row in table.rows.shown[:NUMBERS_MOST]
        for spot, cell in zip(table.spots.shown, row.cells, strict=True)
    ]
    if all(size.value is None for size in sizes):
        return None
    return Markup(
        bore_map(
            sizes,
            labels=labels,
            title=table.title,
            unit=table.unit,
            lower=table.limits.lower,
            upper=table.limits.upper,
            nominal=table.nominal,
            depths=depths,
            axes=axes,
            name=table.part_title,
        )
    )


def against_of(one: Derived, labels: Labels) -> Markup | None:
    """A clearance at every number against its band; None for what is no clearance, and while
    nothing is known of it."""
    if one.quantity != "clearance" or all(row.value is None for row in one.rows.shown):
        return None
    values = [
        Value(
            str(row.number),
            row.value,
            expanded=row.expanded,
            result=row.result,
            href="" if row.entry is None else f"/entries/{row.entry}",
        )
        for row in one.rows.shown[:COLUMNS_MOST]
    ]
    lines = [] if one.target is None else [Line(one.target, labels.text("build.target_word"))]
    return Markup(
        against_band(
            values,
            labels=labels,
            title=one.title,
            unit=one.unit,
            lower=one.limits.lower,
            upper=one.limits.upper,
            lines=lines,
            name=one.position,
        )
    )


def growths_of(turned: Sequence[Turned], labels: Labels) -> list[Markup]:
    """Turning torque as the assembly grew: a drawing for each unit, of two tests or more."""
    found = []
    for unit, some in groupby(turned[:COLUMNS_MOST], key=lambda one: one.unit):
        values = [_turned(one) for one in some]
        if sum(value.value is not None or value.bracket is not None for value in values) > 1:
            title = labels.text("build.turning.grew")
            found.append(Markup(growth(values, labels=labels, title=title, unit=unit)))
    return found


def _turned(one: Turned) -> Value:
    cell, where = one.cell, f"{one.position} {one.number}" if one.position else _short(one.title)
    bracket = cell.taken[0].bracket if cell.taken else None
    return Value(
        where,
        cell.value,
        expanded=cell.expanded,
        lower=one.limits.lower,
        upper=one.limits.upper,
        result=cell.result,
        bracket=bracket,
        href=_href(cell),
    )


def _short(title: str) -> str:
    """A title as far as its first comma: the table below has all of it."""
    return title.partition(",")[0]


def pattern_of(spec: Spec, table: Table, labels: Labels) -> Markup | None:
    """The pattern of a fastener group, each with its order and the result of its last stage."""
    if not table.order or len(table.order) > FASTENERS_MOST:
        return None
    last = {row.number: row.cells[-1] for row in table.rows.shown}
    return Markup(
        draw_pattern(
            spec,
            table.subject,
            labels=labels,
            results={number: cell.result for number, cell in last.items() if cell.result},
            hrefs={number: _href(cell) for number, cell in last.items() if cell.taken},
        )
    )


def _href(cell: Cell) -> str:
    """Where the newest reading of a point is shown."""
    return f"/readings/{cell.taken[-1].reading}" if cell.taken else ""
