"""What was measured and tightened, operation by operation: numbers by points or stages."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from capture.build import Build
from capture.inquiry.glance.cells import cell, limited
from capture.inquiry.glance.shape import (
    Data,
    Earlier,
    Most,
    Row,
    Some,
    Spot,
    Table,
    Tally,
    Trace,
)  # fmt: skip
from capture.inquiry.glance.some import numbers, some
from capture.quantity import plain
from capture.spec.model import Characteristic, Fastener
from capture.titles import limits_now
from capture.work import Work

NOTED = ("nonconforming", "undecided")
"""Results that are shown before others where not all are."""
LEAST_ROWS = 4

Spans = Mapping[int, Sequence[range]]
"""Number → for each spot the indexes of its steps."""


def measured(build: Build, work: Work, most: Most, tables: int, earlier: Some[Earlier]) -> Table:
    """One measuring operation; ``tables`` is how many tables share the room there is."""
    one = build.spec.characteristics[work.operation.subject]
    part = build.spec.parts[one.part]
    repeats, per = one.repeats, len(one.points) * one.repeats
    spots = some(
        [Spot(point.id, point.id, point.depth, point.axis, one.unit) for point in one.points],
        most.points,
    )
    chosen = numbers(part.count, _urgent(build, work), _rows(most, tables, len(spots.shown)))
    spans: dict[int, Sequence[range]] = {}
    for number in chosen:
        first = work.start + (number - 1) * per
        starts = range(first, first + len(spots.shown) * repeats, repeats)
        spans[number] = [range(start, start + repeats) for start in starts]
    return Table(
        operation=work.operation.id,
        subject=one.id,
        kind="measure",
        title=one.title,
        part=one.part,
        part_title=part.title,
        position=part.position,
        unit=one.unit,
        nominal=plain(one.nominal_size),
        limits=limited(one.limits) if one.factors is None else None,
        follows=None if one.factors is None else one.factors.of,
        repeats=repeats,
        kinds=one.instruments,
        cautions=one.cautions,
        spots=spots,
        rows=Some(tuple(_rows_of(build, work, spans)), part.count - len(chosen)),
        tally=tally(build, work),
        earlier=earlier,
        per=part.per,
        at_20_degrees=one.expansion is not None,
    )


def tightened(
    build: Build,
    work: Work,
    most: Most,
    tables: int,
    earlier: Some[Earlier],
    *,
    preloads: Mapping[int, Data],
    traces: Mapping[int, str],
) -> Table:
    """One tightening operation; ``preloads`` by number, ``traces`` the SHA-256 by press."""
    one = build.spec.fasteners[work.operation.subject]
    part = build.spec.parts[one.part]
    spots = _stages(one, most)
    chosen = numbers(part.count, _urgent(build, work), _rows(most, tables, len(spots.shown)))
    at: dict[tuple[int, str], int] = {}
    for index in range(work.start, work.stop):
        step = build.steps[index]
        at[step.number, step.point] = index
    spans: dict[int, Sequence[range]] = {
        number: [range(at[number, spot.id], at[number, spot.id] + 1) for spot in spots.shown]
        for number in chosen
    }
    rows = [row._replace(preload=preloads.get(row.number)) for row in _rows_of(build, work, spans)]
    return Table(
        operation=work.operation.id,
        subject=one.id,
        kind="tighten",
        title=one.title,
        part=one.part,
        part_title=part.title,
        position=part.position,
        unit="",
        nominal=None,
        limits=None,
        follows=None,
        repeats=1,
        kinds=one.instruments,
        cautions=one.cautions,
        spots=spots,
        rows=Some(tuple(rows), part.count - len(chosen)),
        tally=tally(build, work),
        earlier=earlier,
        per=part.per,
        order=one.order[: most.rows],
        lubricant=one.lubricant,
        into_yield=one.torque_to_yield,
        traces=tuple(_traces(build, work, traces)),
    )


def tally(build: Build, work: Work) -> Tally:
    """How many of an operation's steps have which result."""
    counts = Counter(
        "missing" if fill is None else fill.result for fill in build.fills[work.start : work.stop]
    )
    return Tally(*(counts[name] for name in Tally._fields))


def _stages(one: Fastener, most: Most) -> Some[Spot]:
    return some(
        [
            Spot(
                stage.id,
                stage.title,
                "",
                "",
                stage.unit,
                plain(stage.target),
                limited(stage.limits),
            )
            for stage in one.stages
        ],
        most.points,
    )


def _rows(most: Most, tables: int, spots: int) -> int:
    """How many rows a table gets: the cells of all tables together are bounded."""
    share = most.cells // max(1, tables * spots)
    return min(most.rows, max(LEAST_ROWS, share))


def _urgent(build: Build, work: Work) -> set[int]:
    return {
        build.steps[at].number
        for at in range(work.start, work.stop)
        if (fill := build.fills[at]) is not None and fill.result in NOTED
    }


def _rows_of(build: Build, work: Work, spans: Spans) -> list[Row]:
    return [_row(build, work, number, groups) for number, groups in spans.items()]


def _row(build: Build, work: Work, number: int, groups: Sequence[range]) -> Row:
    first = build.steps[groups[0].start]
    own = _own_limits(build, first.subject)
    cells = []
    limits = None
    for group in groups:
        step = build.steps[group.start]
        limits = limits_now(build, step)
        cells.append(cell(build, group, limits, held=step.subject_id in work.holds))
    return Row(
        number=number,
        place=build.place(first),
        piece=build.pieces.at(first.part, number),
        pass_number=build.pass_of(first),
        limits=limited(limits) if own and limits is not None else None,
        cells=tuple(cells),
    )


def _own_limits(build: Build, subject: str) -> bool:
    """Whether the limits follow from another size, and so differ from number to number."""
    one: Characteristic | None = build.spec.characteristics.get(subject)
    return one is not None and one.factors is not None


def _traces(build: Build, work: Work, traces: Mapping[int, str]) -> list[Trace]:
    found = []
    for at in range(work.start, work.stop):
        step, fill = build.steps[at], build.fills[at]
        if fill is not None and fill.press is not None and fill.press in traces:
            found.append(
                Trace(fill.press, traces[fill.press], step.number, step.point, fill.result)
            )
    return found
