"""What the verdicts rest on: instruments, standards, zero checks, tool checks, the rule."""

from __future__ import annotations

from typing import Any

from api.sheet.blocks import Block, Cell, Column, Items, Section, Table, Text
from api.sheet.gather import Material
from api.sheet.say import Say
from api.sheet.sizes import sent
from capture.spec.model import Rule

Data = dict[str, Any]
Rows = list[tuple[Cell, ...]]


def instruments(material: Material, say: Say) -> Section:
    """With what it was measured: each record of an instrument that readings were taken under."""
    found = material.glance
    blocks: list[Block] = [
        _used(material, say) if found.instruments.shown else Text(say.text("sheet.nothing")),
        *say.more(found.instruments),
    ]
    if found.sets.shown:
        blocks += [_sets(material, say), *say.more(found.sets)]
    if found.zeros.shown:
        blocks += [_zeros(material, say), *say.more(found.zeros)]
    for kind in ("temperature", "extension"):
        entries = [one for one in material.cited.values() if one["kind"] == kind]
        if entries:
            blocks.append(_warmth(entries, say) if kind == "temperature" else _tools(entries, say))
    return Section("instruments", say.text("sheet.instruments.title"), tuple(blocks))


def _used(material: Material, say: Say) -> Table:
    columns = (
        Column(say.text("sheet.gauge_head")),
        Column(say.text("sheet.instruments.kind")),
        Column(say.text("sheet.instruments.resolution"), "number"),
        Column(say.text("sheet.instruments.certificate")),
        Column(say.text("sheet.instruments.due")),
        Column("U", "number"),
        Column("k", "number"),
        Column(say.text("sheet.instruments.readings"), "number"),
        Column(say.text("sheet.entry")),
    )
    rows: Rows = []
    remarks: list[tuple[str, str]] = []
    for one in material.glance.instruments.shown:
        body, name = one.instrument, one.instrument["id"]
        known = body["calibration"]
        rows.append(
            (
                name,
                say.gauge(body["kind"]),
                f"{body['resolution']} {body['unit']}",
                known["certificate"] if known else say.text("common.none"),
                known["due"] if known else "",
                f"{known['expanded_uncertainty']} {body['unit']}" if known else "",
                known["coverage_factor"] if known else "",
                str(one.readings),
                str(one.entry),
            )
        )
        if not known:
            remarks.append((name, say.text("sheet.instruments.no_certificate")))
        if one.overdue:
            remarks.append((name, say.text("sheet.instruments.overdue", at=say.moment(one.last))))
        if body["simulated"]:
            remarks.append((name, say.text("common.simulated_word")))
    return Table(columns, tuple(rows), "", "", say.notes(remarks, len(rows)))


def _sets(material: Material, say: Say) -> Table:
    columns = (
        Column(say.text("sheet.gauge_head")),
        Column(say.text("sheet.instruments.standard")),
        Column(say.text("sheet.size"), "number"),
        Column("U", "number"),
        Column("k", "number"),
        Column(say.text("sheet.when")),
        Column(say.text("sheet.instruments.readings"), "number"),
        Column(say.text("sheet.entry")),
    )
    rows = tuple(
        (
            one.instrument,
            one.standard,
            f"{one.size} {one.unit}",
            f"{one.expanded} {one.unit}" if one.expanded else say.text("sheet.not_stated"),
            one.coverage or "",
            say.moment(one.at).removesuffix(" UTC"),
            str(one.readings),
            str(one.entry),
        )
        for one in material.glance.sets.shown
    )
    return Table(columns, rows, say.text("sheet.instruments.sets"))


def _zeros(material: Material, say: Say) -> Table:
    columns = (
        Column(say.text("sheet.gauge_head")),
        Column(say.text("sheet.when")),
        Column(say.text("sheet.instruments.reads"), "number"),
        Column(say.text("sheet.instruments.moved"), "number"),
        Column("U", "number"),
        Column(say.text("sheet.instruments.covers"), "number"),
        Column(say.text("sheet.instruments.zero")),
        Column(say.text("sheet.reading"), "seqs"),
    )
    said = {
        None: say.text("sheet.instruments.not_known"),
        True: say.text("sheet.instruments.steady"),
        False: say.text("sheet.instruments.drifted"),
    }
    rows: Rows = []
    remarks: list[tuple[str, str]] = []
    for one in material.glance.zeros.shown:
        rows.append(
            (
                one.instrument,
                say.moment(one.at).removesuffix(" UTC"),
                f"{one.deviation} {one.unit}",
                f"{one.drift} {one.unit}",
                f"{one.expanded} {one.unit}" if one.expanded else say.text("sheet.not_stated"),
                str(one.readings),
                said[one.steady],
                (one.reading,),
            )
        )
        if not one.counts:
            remarks.append(
                (f"{one.instrument}, {one.reading}", say.text("sheet.instruments.again"))
            )
    notes = (say.text("sheet.instruments.zeros_about"), *say.notes(remarks, 0))
    return Table(columns, tuple(rows), say.text("sheet.instruments.zeros"), "", notes)


def _warmth(entries: list[Any], say: Say) -> Table:
    columns = (
        Column(say.text("sheet.gauge_head")),
        Column(say.text("sheet.instruments.temperature"), "number"),
        Column("U", "number"),
        Column(say.text("sheet.when")),
        Column(say.text("sheet.entry")),
    )
    rows = tuple(
        (
            entry["body"]["instrument"],
            f"{entry['body']['value']} {entry['body']['unit']}",
            entry["body"]["expanded_uncertainty"] or say.text("sheet.not_stated"),
            say.moment(entry["at"]).removesuffix(" UTC"),
            str(entry["seq"]),
        )
        for entry in entries
    )
    return Table(columns, rows, say.text("sheet.instruments.temperatures"))


def _tools(entries: list[Any], say: Say) -> Table:
    columns = (
        Column(say.text("sheet.gauge_head")),
        Column(say.text("sheet.instruments.tool"), "number"),
        Column(say.text("sheet.instruments.extension"), "number"),
        Column(say.text("sheet.instruments.angle"), "number"),
        Column(say.text("sheet.when")),
        Column(say.text("sheet.entry")),
    )
    rows = tuple(
        (
            entry["body"]["instrument"],
            f"{entry['body']['tool_length']} {entry['body']['unit']}",
            f"{entry['body']['length']} {entry['body']['unit']}",
            f"{entry['body']['angle']}°",
            say.moment(entry["at"]).removesuffix(" UTC"),
            str(entry["seq"]),
        )
        for entry in entries
    )
    return Table(columns, rows, say.text("sheet.instruments.extensions"))


def checks(material: Material, say: Say) -> Section | None:
    """Checks of tools against a reference, and gauge studies, reading by reading."""
    blocks: list[Block] = []
    for one in material.glance.checks:
        answered = {
            None: "",
            True: say.text("sheet.checks.within"),
            False: say.text("sheet.checks.beyond"),
        }
        worst = one["worst_percent"]
        about = say.about(
            say.text("sheet.checks.tool", tool=one["tool"]),
            say.text("sheet.checks.permissible", percent=one["permissible_deviation_percent"]),
            say.text("sheet.checks.worst", percent=worst) if worst is not None else "",
            answered[one["conforming"]],
        )
        blocks += _taken(one["title"], one["check"], "check", about, material, say)
    for one in material.glance.studies:
        left = "" if one["complete"] else say.text("sheet.checks.study_left", **_done(one))
        blocks += _taken(one["title"], one["study"], "study", left, material, say)
        if one["complete"]:
            blocks.append(Items(tuple(one["result"]["sentences"])))
    return Section("checks", say.text("sheet.checks.title"), tuple(blocks)) if blocks else None


def _done(one: Data) -> dict[str, int]:
    return {"done": one["readings"], "wanted": one["wanted"]}


def _taken(
    title: str, subject: str, kind: str, about: str, material: Material, say: Say
) -> list[Block]:
    """The readings of one check or study that stand at its steps."""
    own = [
        reading
        for reading in material.readings.values()
        if reading["placement"].get("kind") == kind
        and reading["placement"]["characteristic"] == subject
        and reading["seq"] in material.counting
    ]
    columns = (
        Column(say.text("sheet.point")),
        Column(say.text("sheet.sent"), "number"),
        Column(say.text("sheet.limits"), "number"),
        Column("U", "number"),
        Column(say.text("sheet.gauge_head")),
        Column(say.text("sheet.verdict"), "result"),
        Column(say.text("sheet.reading"), "seqs"),
    )
    rows = tuple(
        (
            _where(reading, kind, say),
            sent(reading, say),
            say.limits_of(reading["verdict"]),
            reading["verdict"]["expanded_uncertainty"] or "",
            reading["instrument"],
            say.result(reading["verdict"]["result"]),
            (reading["seq"],),
        )
        for reading in own
    )
    return [Table(columns, rows, title, about)]


def _where(reading: Data, kind: str, say: Say) -> str:
    """Which setting of a tool, or whose measuring of which sample."""
    placement = reading["placement"]
    head, _, count = placement["point"].rpartition("-")
    if kind == "study":
        return say.text("sheet.checks.sample", who=head, sample=placement["number"], trial=count)
    if reading["verdict"]["upper"] is None:
        return say.text("sheet.checks.preload", number=count)
    return say.text(
        "sheet.checks.setting", setting=head, unit=reading["verdict"]["unit"], number=count
    )


def rule(material: Material, say: Say) -> Section:
    """How it was decided, and where the uncertainty comes from."""
    decision = material.spec.decision
    values = {"g": f"{decision.guard_factor:f}", "k": f"{decision.coverage_factor:f}"}
    told = {
        Rule.SIMPLE: "sheet.decision.simple",
        Rule.GUARDED: "sheet.decision.guarded",
        Rule.ISO14253: "sheet.decision.iso14253",
    }[decision.rule]
    overdue = "sheet.decision.mark" if decision.overdue == "mark" else "sheet.decision.hold"
    items = (
        say.text("sheet.decision.factor", **values),
        say.text("sheet.decision.sources"),
        say.text("sheet.decision.not_established"),
        say.text("sheet.decision.brackets"),
        say.text("sheet.decision.clearances"),
        say.text("sheet.decision.drifted"),
        say.text(overdue),
        say.text("sheet.decision.budget"),
        say.text("sheet.decision.risk"),
    )
    blocks = (Text(say.text(told, **values)), Items(items))
    return Section("decision", say.text("sheet.decision.title"), blocks)
