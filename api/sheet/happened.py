"""What happened beside the measuring: corrections, voids, reworks, concessions, what did not count,
and what people confirmed."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from typing import Any

from api.sheet.blocks import Block, Cell, Column, Section, Table, Text
from api.sheet.gather import Material
from api.sheet.say import Say
from api.sheet.sizes import sent

Data = dict[str, Any]
Rows = list[tuple[Cell, ...]]


def story(material: Material, say: Say) -> Section:
    """Everything that people decided, in order, with who, when and why."""
    found = material.glance.story
    blocks: list[Block] = []
    if found.shown:
        columns = (
            Column(say.text("sheet.entry")),
            Column(say.text("sheet.when")),
            Column(say.text("sheet.who")),
            Column(say.text("sheet.story.what"), wide=True),
            Column(say.text("sheet.story.why"), wide=True),
        )
        rows = tuple(_told(list(some), say) for _, some in groupby(found.shown, _together))
        blocks.append(Table(columns, rows, "", say.text("sheet.story.about")))
    else:
        blocks.append(Text(say.text("sheet.story.nothing")))
    blocks += say.more(found)
    blocks += _earlier(material, say)
    blocks += _not_counted(material, say)
    return Section("story", say.text("sheet.story.title"), tuple(blocks))


def _together(one: Data) -> tuple[Any, ...]:
    """What one zero check marked is told at once."""
    if one["kind"] == "decision" and one["act"] == "marked" and "drift" in one:
        return ("drift", one["drift"]["zero"])
    return ("one", one["seq"])


def _told(some: list[Data], say: Say) -> tuple[Cell, ...]:
    first = some[0]
    return (
        say.seqs(one["seq"] for one in some),
        say.moment(first["at"]).removesuffix(" UTC"),
        "" if first["kind"] == "decision" and first["act"] == "marked" else first["operator"] or "",
        _what(some, say),
        first.get("reason") or "",
    )


def _what(some: list[Data], say: Say) -> str:
    one = some[0]
    if one["kind"] == "decision":
        return _decided(some, say)
    place = say.place(one.get("part"), one.get("number", 0))
    said = {"place": place, "piece": one.get("piece")}
    match one["kind"]:
        case "assign":
            return say.text("sheet.story.assign", displaced=one["displaced"], **said)
        case "rework":
            return say.text("sheet.story.rework", **said)
        case "scrap":
            return say.text("sheet.story.scrap", **said)
        case "concession":
            return say.text("sheet.story.concession", subject=say.where(one["subject"]))
        case "fit":
            pieces = ", ".join(f"{number}: {piece}" for number, piece in one["pieces"])
            return say.text("sheet.story.fit", clearance=say.where(one["clearance"]), pieces=pieces)
        case "remeasure":
            return say.text("sheet.story.remeasure", step=say.where(one.get("step") or ""))
        case "close":
            return say.text("sheet.story.close")
    return say.readable(one["kind"])  # of a newer store


def _decided(some: list[Data], say: Say) -> str:
    one = some[0]
    readings = ", ".join(str(each["reading"]) for each in some)
    match one["act"]:
        case "place":
            return say.text("sheet.story.place", reading=readings, step=say.where(one["step"]))
        case "correct":
            to = f"{one['corrected']['digits']} {one['corrected']['unit']}"
            return say.text("sheet.story.correct", reading=readings, corrected=to)
        case "void":
            return say.text("sheet.story.void", reading=readings)
        case "marked" if "drift" in one:
            drift = one["drift"]
            return say.text(
                "sheet.story.marked",
                readings=readings,
                drift=drift["drift"],
                expanded=drift["expanded_uncertainty"],
                unit=drift["unit"],
                zero=drift["zero"],
            )
    return f"{readings}: {say.readable(one['act'])}"


def _earlier(material: Material, say: Say) -> list[Block]:
    """Readings that answered a step once: what was measured before a rework stays on record."""
    tables = (*material.glance.sizes.shown, *material.glance.fasteners.shown)
    found = sorted(
        ((one, table) for table in tables for one in table.earlier.shown),
        key=lambda pair: pair[0].reading,
    )
    if not found:
        return []
    columns = (
        Column(say.text("sheet.reading"), "seqs"),
        Column(say.text("sheet.when")),
        Column(say.text("sheet.where")),
        Column(say.text("sheet.sent"), "number"),
        Column(say.text("sheet.size"), "number"),
        Column(say.text("sheet.verdict"), "result"),
    )
    rows = tuple(
        (
            (one.reading,),
            say.moment(one.at).removesuffix(" UTC"),
            say.about(table.title, f"{one.number} {say.readable(one.point)}".strip()),
            sent(material.readings[one.reading], say) if one.reading in material.readings else "",
            f"{one.shown} {one.unit}",
            say.result(one.result),
        )
        for one, table in found
    )
    title, about = say.text("sheet.story.earlier"), say.text("sheet.story.earlier_about")
    more = say.more(*(table.earlier for table in tables))
    return [Table(columns, rows, title, about), *more]


def _not_counted(material: Material, say: Say) -> list[Block]:
    """Readings that answer nothing: voided, or objected to and never settled."""
    found = material.glance.not_counted
    if not found.shown:
        return []
    columns = (
        Column(say.text("sheet.reading"), "seqs"),
        Column(say.text("sheet.when")),
        Column(say.text("sheet.gauge_head")),
        Column(say.text("sheet.sent"), "number"),
        Column(say.text("sheet.story.reason"), wide=True),
        Column(say.text("sheet.entry")),
    )
    rows: Rows = []
    for one in found.shown:
        reading = material.readings.get(one.reading)
        rows.append(
            (
                (one.reading,),
                say.moment(one.at).removesuffix(" UTC"),
                reading["instrument"] if reading else "",
                sent(reading, say) if reading else "",
                f"{say.named('common.reason', one.code)}: {one.detail}",
                str(one.entry),
            )
        )
    title, about = say.text("sheet.story.not_counted"), say.text("sheet.story.not_counted_about")
    return [Table(columns, tuple(rows), title, about), *say.more(found)]


def confirmations(material: Material, say: Say) -> Section | None:
    """What people confirmed, in the words they were asked in."""
    found = material.glance.confirmed
    if not found.shown:
        return None
    columns = (
        Column(say.text("sheet.confirmed.what")),
        Column(say.text("sheet.when")),
        Column(say.text("sheet.who")),
        Column(say.text("sheet.confirmed.note"), wide=True),
        Column(say.text("sheet.entry")),
    )
    rows = tuple(
        (
            one.title if one.part is None else f"{one.title}: {say.place(one.part, one.number)}",
            say.moment(one.at).removesuffix(" UTC") if one.at else say.text("sheet.missing"),
            one.operator or "",
            one.note or "",
            "" if one.entry is None else str(one.entry),
        )
        for one in found.shown
    )
    # The words are the same for every one of a part, and stand below once.
    words = tuple(dict.fromkeys(f"{one.title}: {one.text}" for one in found.shown))
    table = Table(columns, rows, "", say.text("sheet.confirmed.about"), words)
    return Section("confirmed", say.text("sheet.confirmed.title"), (table, *say.more(found)))


def cautions(material: Material, say: Say) -> Section | None:
    """The cautions that the spec gives with single steps."""
    spec = material.spec
    groups: Iterable[Any] = (
        *spec.characteristics.values(),
        *spec.derived.values(),
        *spec.fasteners.values(),
        *spec.confirmations.values(),
        *spec.turning_tests.values(),
        *spec.zero_checks.values(),
        *spec.studies.values(),
        *spec.tool_checks.values(),
    )
    rows = tuple((one.title, caution) for one in groups for caution in one.cautions)
    if not rows:
        return None
    columns = (
        Column(say.text("sheet.cautions.step")),
        Column(say.text("sheet.cautions.caution"), wide=True),
    )
    table = Table(columns, rows, "", say.text("sheet.cautions.about"))
    return Section("cautions", say.text("sheet.cautions.title"), (table,))
