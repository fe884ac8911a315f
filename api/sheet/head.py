"""The first page: what was built, how it stands, what is missing or held, what comes first."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from api.sheet.blocks import (
    Block,
    Box,
    Cell,
    Column,
    Facts,
    Heading,
    How,
    Items,
    Section,
    Table,
    Text,
)
from api.sheet.gather import Material
from api.sheet.say import Say
from capture.inquiry.glance import shape as seen
from capture.view import GAUGE_CHECKS

Data = dict[str, Any]
ENGINE = ("measure", "tighten", "turn")
"""Kinds of steps whose readings are about the engine."""
FIELDS = ("conforming", "nonconforming", "undecided", "not_evaluated", "missing")


def simulated(material: Material) -> bool:
    """Whether any reading of this build came from a simulated instrument."""
    return any(reading["simulated"] for reading in material.readings.values())


def unfinished(material: Material) -> bool:
    """Whether a step is unanswered or a result still holds."""
    state = material.glance.state
    return bool(state["steps_done"] < state["steps_total"] or state["holds"])


def marks(material: Material, say: Say) -> tuple[str, ...]:
    """What stands large on every page."""
    found = []
    if unfinished(material):
        found.append(say.text("sheet.marks.unfinished"))
    if simulated(material):
        found.append(say.text("sheet.marks.simulated"))
    if material.spec.invented:
        found.append(say.text("sheet.marks.invented"))
    return tuple(found)


def identity(material: Material, say: Say) -> Section:
    """What this sheet is about, and what it was taken from."""
    state, spec, looked = material.glance.state, material.spec, material.glance
    rows: list[tuple[str, str, How]] = [
        (say.text("sheet.head.build"), f"{state['title']} ({state['id']})", "text"),
        (say.text("sheet.head.state"), _state(material, say), "text"),
        (
            say.text("sheet.head.spec"),
            say.text(
                "sheet.head.spec_revision", title=spec.title, id=spec.id, revision=spec.revision
            ),
            "text",
        ),
        (say.text("sheet.head.hash"), spec.hash, "mono"),
        (say.text("sheet.head.opened"), say.moment(material.opened["at"]), "text"),
        (say.text("sheet.head.last"), say.moment(material.last_at), "text"),
        (
            say.text("sheet.head.operators"),
            ", ".join(material.operators) or say.text("sheet.head.nobody"),
            "text",
        ),
        (say.text("sheet.head.bench"), material.bench, "text"),
        (say.text("sheet.head.bench_id"), material.opened["bench"], "mono"),
        (
            say.text("sheet.head.ledger"),
            say.text("sheet.head.ledger_at", size=looked.size, at=say.moment(looked.as_of)),
            "text",
        ),
    ]
    rows = [row for row in rows if row[1]]
    blocks: list[Block] = [Facts(tuple(rows))]
    if spec.invented:
        blocks.append(
            Box(say.text("common.invented"), tuple(word for word in (spec.notice,) if word))
        )
    elif spec.notice:
        blocks.append(Text(spec.notice))
    first = (say.text("sheet.head.first"), say.text("sheet.head.records"), *spec.cautions)
    blocks.append(Box(say.text("sheet.head.caution"), tuple(dict.fromkeys(first))))
    return Section("identity", say.text("sheet.head.title"), tuple(blocks))


def _state(material: Material, say: Say) -> str:
    state = material.glance.state
    steps = say.text("sheet.head.steps", done=state["steps_done"], total=state["steps_total"])
    closed = say.text("sheet.head.closed") if state["closed"] else ""
    whole = say.text("sheet.head.unfinished" if unfinished(material) else "sheet.head.finished")
    return say.about(whole, steps, closed)


def summary(material: Material, say: Say) -> Section:
    """How many results there are of each kind, and what is missing or held."""
    looked = material.glance
    parts = [
        (say.text("sheet.summary.sizes"), _sum([one.tally for one in looked.sizes.shown])),
        (say.text("sheet.summary.tightening"), _sum([one.tally for one in looked.fasteners.shown])),
        (say.text("sheet.summary.turning"), _turned(looked)),
    ]
    derived = _sum([one.tally for one in looked.derived.shown])
    groups = [
        (say.text("sheet.summary.counting"), _counted(looked, "readings", ENGINE)),
        *((say.text("sheet.summary.of_them", what=name), tally) for name, tally in parts),
        (say.text("sheet.summary.derived"), derived),
        (say.text("sheet.summary.gauge_checks"), _counted(looked, "gauge_checks", GAUGE_CHECKS)),
    ]
    columns = (
        Column(say.text("sheet.summary.of")),
        *(Column(say.named("common.verdict", word), "number") for word in FIELDS[:-1]),
        Column(say.text("sheet.missing"), "number"),
    )
    rows = tuple((name, *(str(getattr(tally, word)) for word in FIELDS)) for name, tally in groups)
    counting = [material.readings[seq] for seq in material.counting]
    readings = say.text(
        "sheet.summary.readings",
        counted=len(counting),
        checks=sum(looked.state["counts"]["gauge_checks"].values()),
        simulated=sum(reading["simulated"] for reading in counting),
        typed=sum(reading["typed"] for reading in counting),
        all=len(material.readings),
    )
    blocks: list[Block] = [Table(columns, rows), Text(readings)]
    conceded = looked.state["concessions"]
    if conceded:
        blocks.append(Heading(say.text("sheet.summary.conceded")))
        blocks.append(
            Items(tuple(f"{say.where(one['subject'])}: {one['reason']}" for one in conceded))
        )
    if unfinished(material):
        blocks += _open(material, say)
    if looked.state["open_sets"]:
        blocks.append(Heading(say.text("sheet.summary.open_sets")))
        blocks.append(Items(tuple(_open_set(one, say) for one in looked.state["open_sets"])))
    return Section("summary", say.text("sheet.summary.title"), tuple(blocks))


def _counted(looked: seen.Glance, name: str, kinds: Iterable[str]) -> seen.Tally:
    """The build's own count; missing is what nothing answers yet of operations of these kinds."""
    works = [one for one in looked.state["operations"] if one["kind"] in kinds]
    missing = sum(one["total"] - one["done"] for one in works)
    counts = looked.state["counts"][name]
    return seen.Tally(**counts, missing=missing)


def _sum(tallies: list[seen.Tally]) -> seen.Tally:
    return seen.Tally(*(sum(column) for column in zip(*tallies, strict=True))) if tallies else _NONE


_NONE = seen.Tally(0, 0, 0, 0, 0)


def _turned(looked: seen.Glance) -> seen.Tally:
    found = [one.cell.result or "missing" for one in looked.turning.shown]
    return seen.Tally(*(found.count(word) for word in FIELDS))


def _open(material: Material, say: Say) -> list[Block]:
    """What an unfinished build still wants, loudly."""
    looked = material.glance
    items = [
        say.text("sheet.summary.left", title=one.title, left=one.left, total=one.total)
        for one in looked.missing.shown
        if one.left
    ]
    blocks: list[Block] = [Box(say.text("sheet.summary.unfinished"), tuple(items))]
    blocks += say.more(looked.missing)
    if looked.state["holds"]:
        blocks.append(Heading(say.text("sheet.summary.holds")))
        columns = (
            Column(say.text("sheet.where")),
            Column(say.text("sheet.verdict"), "result"),
            Column(say.text("sheet.summary.holds_up"), wide=True),
            Column(say.text("sheet.reading"), "seqs"),
        )
        rows: list[tuple[Cell, ...]] = [
            (
                _held(one, say),
                say.result(one["result"]),
                ", ".join(say.where(name) for name in one["holds_up"]),
                () if one["reading"] is None else (one["reading"],),
            )
            for one in looked.state["holds"]
        ]
        blocks.append(Table(columns, tuple(rows)))
    return blocks


def _held(one: Data, say: Say) -> str:
    places = ", ".join(say.place(each["part"], each["number"]) for each in one["places"])
    return say.about(one["title"], places)


def _open_set(one: Data, say: Say) -> str:
    return say.text("sheet.summary.open_set", gauge=one["instrument"], count=one["readings"])
