"""What a person decides on a stored reading: place it, correct it, void it. The original stays."""

from __future__ import annotations

from typing import Any

from capture import command as c
from capture import decide
from capture.build import Build
from capture.desk import Desk
from capture.draft import Draft, Lookup, digits_of, open_build, reason_of, step_of
from capture.entry import Envelope, Kind
from capture.errors import Conflict, NotFound
from capture.quantity import unit_name
from capture.reading import Stamp
from capture.step import Step


def _press(lookup: Lookup, seq: int) -> Envelope:
    entry = lookup.entry(seq)
    if entry is None or entry["kind"] != Kind.PRESS:
        raise NotFound(f"There is no reading {seq}.", mend="See GET /v1/readings.")
    return entry


def _facts(press: Envelope) -> dict[str, Any]:
    return {**press["body"], "at": press["at"]}


def _placed_at(desk: Desk, lookup: Lookup, seq: int) -> tuple[Build, Step] | None:
    """Where a press is placed now; its build is loaded for that."""
    decision = lookup.decision(seq)
    if decision is not None and decision["body"]["build"] is not None:
        desk.build(decision["body"]["build"])
    for build in desk.loaded.values():
        at = build.press_at.get(seq)
        if at is not None:
            return build, build.steps[at]
    return None


def place(desk: Desk, lookup: Lookup, command: c.Place, stamp: Stamp) -> Draft:
    press = _press(lookup, command.press)
    _placed_at(desk, lookup, command.press)
    build = open_build(desk, command.build)
    step = step_of(build, command.step)
    seq = press["seq"]
    body = decide.by_person(
        desk, seq, _facts(press), build, step, reason_of(command.reason), desk.corrections.get(seq)
    )
    return Draft(Kind.DECISION, body, press)


def correct(desk: Desk, lookup: Lookup, command: c.Correct, stamp: Stamp) -> Draft:
    press = _press(lookup, command.press)
    unit = unit_name(command.unit) if command.unit else press["body"]["unit"]
    corrected = {"digits": digits_of(command.digits), "unit": unit}
    reason = reason_of(command.reason)
    seq, facts = press["seq"], _facts(press)
    found = _placed_at(desk, lookup, seq)
    if found is None:
        body = decide.corrected_by_rule(desk, seq, facts, reason, corrected)
    else:
        build, step = found
        open_build(desk, build.id)
        body = decide.by_person(desk, seq, facts, build, step, reason, corrected)
    return Draft(Kind.DECISION, body, press)


def void(desk: Desk, lookup: Lookup, command: c.Void, stamp: Stamp) -> Draft:
    press = _press(lookup, command.press)
    seq = press["seq"]
    placed = _placed_at(desk, lookup, seq)
    if placed is not None:
        open_build(desk, placed[0].id)
    newest = lookup.decision(seq)
    reason = newest["body"]["reason"] if newest is not None else None
    if reason is not None and reason["code"] == "void":
        raise Conflict(f"Reading {seq} is void already.")
    body = decide.voided(
        desk, seq, press["body"], placed[0] if placed else None, reason_of(command.reason)
    )
    return Draft(Kind.DECISION, body, press)
