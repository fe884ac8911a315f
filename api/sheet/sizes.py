"""Sizes by part, and what was derived from them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from api.sheet.blocks import Block, Cell, Column, Heading, Section, Table
from api.sheet.gather import Material
from api.sheet.say import Say
from capture.inquiry.glance import shape as seen

Data = dict[str, Any]
BROUGHT = "brought to 20 °C from "
"""How a note begins that a column of its own already says."""


def sizes(material: Material, say: Say) -> Section:
    """Every characteristic at every point, part by part in the spec's order."""
    blocks: list[Block] = []
    tables = material.glance.sizes.shown
    for part in material.spec.parts:
        own = [table for table in tables if table.part == part]
        if own:
            blocks.append(Heading(own[0].part_title))
            blocks += [_characteristic(table, material, say) for table in own]
    blocks += say.more(material.glance.sizes)
    return Section("sizes", say.text("sheet.sizes.title"), tuple(blocks))


def _characteristic(table: seen.Table, material: Material, say: Say) -> Table:
    """One characteristic: a row for each point of each number."""
    points = [(row, cell) for row in table.rows.shown for cell in row.cells]
    taken = [one for _, cell in points for one in readings_of(cell, material)]
    columns = list(_columns(table, points, taken, material, say))
    remarks = [
        (_row_name(row.number, cell.point, table, say), note)
        for row, cell in points
        for note in notes_of(cell, material, say)
    ]
    left = (text.text for text in say.more(table.rows, table.spots))
    return Table(
        tuple(column for column, _ in columns),
        tuple(tuple(made(row, cell) for _, made in columns) for row, cell in points),
        table.title,
        _about(table, [cell for _, cell in points], taken, say),
        (*say.notes(remarks, len(points)), *left),
        level=3,
    )


Made = tuple[Column, Callable[[seen.Row, seen.Cell], Cell]]
"""A column, and what stands in it for a point."""


def _columns(
    table: seen.Table,
    points: list[tuple[seen.Row, seen.Cell]],
    taken: list[Data],
    material: Material,
    say: Say,
) -> Iterator[Made]:
    """Those that say something: what is the same in all rows stands above the table."""

    def own(cell: seen.Cell) -> list[Data]:
        return readings_of(cell, material)

    def number(name: str) -> Column:
        return Column(say.of_unit(name, table.unit), "number")

    if len(table.rows.shown) > 1 or not any(cell.point for _, cell in points):
        yield (
            Column(say.text("sheet.number")),
            lambda row, _: numbered(table.part, row),
        )
    if any(cell.point for _, cell in points):
        yield Column(say.text("sheet.point")), lambda _, cell: say.readable(cell.point)
    yield (
        Column(say.text("sheet.sent"), "number"),
        lambda _, cell: "; ".join(sent(reading, say) for reading in own(cell)),
    )
    warm = any("uncorrected" in reading["verdict"] for reading in taken)
    if warm:
        yield (
            number(say.text("sheet.sizes.as_measured")),
            lambda _, cell: "; ".join(one["verdict"].get("uncorrected", "") for one in own(cell)),
        )
    size = say.text("sheet.sizes.at_20" if warm else "sheet.size")
    yield number(size), lambda _, cell: size_of(cell, say)
    if table.limits is None:
        yield number(say.text("sheet.limits")), lambda _, cell: say.limits(cell.limits, "")
    yield number("U"), lambda _, cell: cell.expanded or ""
    if len({reading["instrument"] for reading in taken}) > 1:
        yield (
            Column(say.text("sheet.gauge_head")),
            lambda _, cell: ", ".join(dict.fromkeys(one["instrument"] for one in own(cell))),
        )
    yield (
        Column(say.text("sheet.verdict"), "result"),
        lambda _, cell: say.result(cell.result, cell.conceded),
    )
    yield (
        Column(say.text("sheet.reading"), "seqs"),
        lambda _, cell: tuple(one["seq"] for one in own(cell)),
    )


def _about(table: seen.Table, cells: list[seen.Cell], taken: list[Data], say: Say) -> str:
    """What holds for every row of a table."""
    gauges = {reading["instrument"] for reading in taken}
    return say.about(
        say.limits(table.limits, table.unit) if table.limits is not None else "",
        say.text("sheet.follow", of=say.where(table.follows)) if table.follows else "",
        say.text("sheet.nominal", size=table.nominal, unit=table.unit) if table.nominal else "",
        rule_of(cells, taken, say),
        say.text("sheet.gauges_used", gauges=gauges.pop()) if len(gauges) == 1 else "",
    )


def _row_name(number: int, point: str, table: seen.Table, say: Say) -> str:
    many = len(table.rows.shown) > 1 or table.rows.more
    return " ".join([*([str(number)] if many else []), *([say.readable(point)] if point else [])])


def numbered(part: str, row: seen.Row) -> str:
    """A row's number, with its piece where that is not the one of the start."""
    usual = row.piece in (None, f"{part}-{row.number}")
    return str(row.number) if usual else f"{row.number} ({row.piece})"


def readings_of(cell: seen.Cell, material: Material) -> list[Data]:
    """The readings that answer a point, in order."""
    seqs = (one.reading for one in cell.taken)
    return [material.readings[seq] for seq in seqs if seq is not None]


def sent(reading: Data, say: Say) -> str:
    """What a gauge sent, digits as sent; with what a person corrected it to."""
    bracket = reading.get("bracket")
    if bracket:
        return say.between((bracket["lower"], bracket["upper"]), reading["unit"])
    said = f"{reading['value']} {reading['unit']}"
    corrected = reading["corrected"]
    if corrected:
        to = f"{corrected['digits']} {corrected['unit']}"
        return say.text("sheet.sizes.corrected", sent=said, corrected=to)
    return said


def size_of(cell: seen.Cell, say: Say) -> str:
    """A size as it is shown: one, or between which two it lies."""
    brackets = [one.bracket for one in cell.taken if one.bracket is not None]
    if brackets:
        return "; ".join(say.between(bracket) for bracket in brackets)
    return cell.shown or ""


def rule_of(cells: list[seen.Cell], taken: list[Data], say: Say) -> str:
    """Coverage factor and rule, where they are the same for all."""
    factors = {cell.coverage for cell in cells if cell.coverage and cell.expanded}
    rules = {reading["verdict"]["rule"] for reading in taken if "rule" in reading["verdict"]}
    return say.about(
        f"k = {factors.pop()}" if len(factors) == 1 else "",
        say.text("sheet.rule_used", rule=say.named("sheet.rule", rules.pop()))
        if len(rules) == 1
        else "",
    )


def notes_of(cell: seen.Cell, material: Material, say: Say) -> Iterator[str]:
    """What the verdict says beside its numbers, and what is to be known of the result."""
    for reading in readings_of(cell, material):
        verdict = reading["verdict"]
        if verdict.get("because") == "repeats":
            continue  # the last of the repeats speaks for all of them
        for note in verdict.get("notes", ()):
            if not ("uncorrected" in verdict and note.startswith(BROUGHT)):
                yield note
        if reading["late"]:
            yield say.text("sheet.sizes.late")
        if reading["because"]:
            yield say.text("sheet.sizes.by_hand", reason=reading["because"])
    if cell.conceded:
        yield say.text("sheet.sizes.accepted", reason=cell.conceded)
    if cell.follows:
        yield say.text("sheet.sizes.outdated", of=say.where(cell.follows))
    if cell.drift and not any(cell.drift in note for note in _recorded(cell, material)):
        yield cell.drift


def _recorded(cell: seen.Cell, material: Material) -> list[str]:
    return [n for r in readings_of(cell, material) for n in r["verdict"].get("notes", ())]


def derived(material: Material, say: Say) -> Section:
    """What was computed from the sizes."""
    blocks = [_quantity(one, say) for one in material.glance.derived.shown]
    more = say.more(material.glance.derived)
    return Section("derived", say.text("sheet.derived.title"), (*blocks, *more))


def _quantity(one: seen.Derived, say: Say) -> Table:
    columns = (
        Column(say.text("sheet.number")),
        Column(say.of_unit(say.text("sheet.derived.value"), one.unit), "number"),
        Column(say.of_unit("U", one.unit), "number"),
        Column(say.text("sheet.verdict"), "result"),
        Column(say.text("sheet.derived.rests_on"), "seqs"),
        Column(say.text("sheet.entry")),
    )
    rows = tuple(
        (
            str(row.number),
            row.shown or "",
            row.expanded or "",
            say.result(row.result, row.conceded),
            row.readings,
            "" if row.entry is None else str(row.entry),
        )
        for row in one.rows.shown
    )
    factors = {row.coverage for row in one.rows.shown if row.coverage and row.expanded}
    rules = {row.rule for row in one.rows.shown if row.rule}
    about = say.about(
        say.limits(one.limits, one.unit),
        say.text("sheet.derived.target", size=one.target, unit=say.unit(one.unit)).strip()
        if one.target
        else "",
        say.named("sheet.quantity", one.quantity) if not one.formula else f"= {one.formula}",
        say.named("sheet.basis", one.basis) if one.quantity == "clearance" else "",
        f"k = {factors.pop()}" if len(factors) == 1 else "",
        say.text("sheet.rule_used", rule=say.named("sheet.rule", rules.pop()))
        if len(rules) == 1
        else "",
    )
    remarks = [(str(row.number), note) for row in one.rows.shown for note in row.notes]
    remarks += [
        (str(row.number), say.text("sheet.sizes.accepted", reason=row.conceded))
        for row in one.rows.shown
        if row.conceded
    ]
    notes = say.notes(remarks, len(one.rows.shown))
    left = tuple(text.text for text in say.more(one.rows))
    return Table(columns, rows, one.title, about, (*notes, *left))
