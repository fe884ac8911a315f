"""The record of tightening, in the order in which it was done, and of turning."""

from __future__ import annotations

from typing import NamedTuple

from api.sheet.blocks import Block, Cell, Column, Result, Section, Table
from api.sheet.gather import Material
from api.sheet.say import Say
from api.sheet.sizes import notes_of, numbered, readings_of, rule_of, sent, size_of
from capture.inquiry.glance import shape as seen


class _Pull(NamedTuple):
    """One stage of one fastener."""

    row: seen.Row
    cell: seen.Cell
    spot: seen.Spot
    first: int
    """Seq of its reading; beyond all where there is none."""


def tightening(material: Material, say: Say) -> Section:
    """Every fastener and stage, pull by pull."""
    blocks: list[Block] = []
    for table in material.glance.fasteners.shown:
        blocks += _group(table, material, say)
    return Section(
        "tightening",
        say.text("sheet.tightening.title"),
        (*blocks, *say.more(material.glance.fasteners)),
    )


def _group(table: seen.Table, material: Material, say: Say) -> list[Block]:
    """Pulls by the ledger's order; those that were not made stand at the end."""
    spots = {spot.id: spot for spot in table.spots.shown}
    pulls = [
        _Pull(row, cell, spots[cell.point], min((one.entry for one in cell.taken), default=2**63))
        for row in table.rows.shown
        for cell in row.cells
    ]
    pulls.sort(key=lambda pull: pull.first)
    columns = (
        Column(say.text("sheet.tightening.turn"), "number"),
        Column(say.text("sheet.number")),
        Column(say.text("sheet.tightening.stage")),
        Column(say.text("sheet.sent"), "number"),
        Column(say.text("sheet.tightening.value"), "number"),
        Column(say.text("sheet.limits"), "number"),
        Column("U", "number"),
        Column(say.text("sheet.verdict"), "result"),
        Column(say.text("sheet.when")),
        Column(say.text("sheet.reading"), "seqs"),
    )
    rows = tuple(_pulled(at, pull, table, material, say) for at, pull in enumerate(pulls, 1))
    taken = [reading for pull in pulls for reading in readings_of(pull.cell, material)]
    about = say.about(
        say.text("sheet.tightening.order", order=" – ".join(map(str, table.order))),
        say.text("sheet.tightening.lubricant", lubricant=table.lubricant)
        if table.lubricant
        else "",
        say.text("sheet.tightening.into_yield") if table.into_yield else "",
        rule_of([pull.cell for pull in pulls], taken, say),
        say.text(
            "sheet.gauges_used", gauges=", ".join(dict.fromkeys(r["instrument"] for r in taken))
        )
        if taken
        else "",
    )
    remarks = [
        (f"{pull.row.number} {pull.spot.title}" if len(spots) > 1 else str(pull.row.number), note)
        for pull in pulls
        for note in notes_of(pull.cell, material, say)
    ]
    notes = say.notes(remarks, len(pulls))
    left = tuple(text.text for text in say.more(table.rows))
    made: list[Block] = [Table(columns, rows, table.title, about, (*notes, *left))]
    return [*made, *_preloads(table, say)]


def _pulled(
    at: int, pull: _Pull, table: seen.Table, material: Material, say: Say
) -> tuple[Cell, ...]:
    spot, cell = pull.spot, pull.cell
    own = readings_of(cell, material)
    size = size_of(cell, say)
    return (
        str(at) if own else "",
        numbered(table.part, pull.row),
        spot.title,
        "; ".join(sent(reading, say) for reading in own),
        f"{size} {spot.unit}" if size else "",
        say.limits(cell.limits, ""),
        cell.expanded or "",
        say.result(cell.result, cell.conceded),
        say.moment(own[-1]["received_at"]).removesuffix(" UTC") if own else "",
        tuple(reading["seq"] for reading in own),
    )


def _preloads(table: seen.Table, say: Say) -> list[Block]:
    """What the pulls stand for, where the spec says enough for an estimate."""
    found = [(row, row.preload) for row in table.rows.shown if row.preload]
    if not found:
        return []
    columns = (
        Column(say.text("sheet.number")),
        Column(say.text("sheet.tightening.preload"), "number"),
        Column(say.text("sheet.tightening.between"), "number"),
        Column(say.text("sheet.tightening.by")),
    )
    rows: list[tuple[Cell, ...]] = []
    remarks: list[tuple[str, str]] = []
    for row, preload in found:
        lower, upper = preload["lower_newton"], preload["upper_newton"]
        known = lower is not None and upper is not None
        between = say.text("common.from_to", lower=lower, upper=upper, unit="N") if known else ""
        rows.append((str(row.number), f"{preload['preload_newton']} N", between, preload["method"]))
        remarks += [(str(row.number), one) for one in (*preload["cautions"], *preload["then"])]
    title = say.text("sheet.tightening.preloads", title=table.title)
    notes = (say.text("sheet.tightening.estimate"), *say.notes(remarks, len(found)))
    return [Table(columns, tuple(rows), title, "", notes)]


def turning(material: Material, say: Say) -> Section:
    """What it took to turn the assembly, in the order in which it grew."""
    turned = material.glance.turning.shown
    columns = (
        Column(say.text("sheet.turning.test")),
        Column(say.text("sheet.sent"), "number"),
        Column(say.text("sheet.turning.value"), "number"),
        Column(say.text("sheet.limits"), "number"),
        Column("U", "number"),
        Column(say.text("sheet.verdict"), "result"),
        Column(say.text("sheet.reading"), "seqs"),
    )
    rows: list[tuple[Cell, ...]] = []
    remarks: list[tuple[str, str]] = []
    for one in turned:
        own = readings_of(one.cell, material)
        name = one.title if one.part is None else f"{one.title}: {say.place(one.part, one.number)}"
        size = size_of(one.cell, say)
        verdict: Result = say.result(one.cell.result, one.cell.conceded)
        rows.append(
            (
                name,
                "; ".join(sent(reading, say) for reading in own),
                f"{size} {one.unit}" if size else "",
                say.limits(one.limits, ""),
                one.cell.expanded or "",
                verdict,
                tuple(reading["seq"] for reading in own),
            )
        )
        remarks += [(name, note) for note in notes_of(one.cell, material, say)]
    taken = [reading for one in turned for reading in readings_of(one.cell, material)]
    about = rule_of([one.cell for one in turned], taken, say)
    notes = say.notes(remarks, len(rows))
    blocks: tuple[Block, ...] = say.more(material.glance.turning)
    if rows:
        blocks = (Table(columns, tuple(rows), "", about, notes), *blocks)
    return Section("turning", say.text("sheet.turning.title"), blocks)
