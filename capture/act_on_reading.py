"""What a person decides on a stored reading: place it, correct it, void it. The original stays."""

from __future__ import annotations

from typing import Any

from capture import by_person
from capture import command as c
from capture.build import Build
from capture.desk import Desk
from capture.draft import Draft, Lookup, digits_of, open_build, reason_of, step_of
from capture.entry import Envelope, Kind
from capture.errors import Conflict, NotFound
from capture.means import Means, means_at
from capture.quantity import unit_name
from capture.reading import Stamp
from capture.step import Step


def _press(lookup: Lookup, seq: int) -> Envelope:
    entry = lookup.entry(seq)
    if entry is None or entry["kind"] != Kind.PRESS:
        raise NotFound(
            f"There is no reading {seq}.",
            mend="List the readings: GET /v1/readings, or /history in a browser.",
        )
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


def _means(desk: Desk, lookup: Lookup, press: Envelope) -> Means:
    """What a press was taken by: as the service's own decision on it cites."""
    rule = lookup.entry(press["seq"] + 1)
    assert rule is not None  # in the same commit as the press
    return means_at(desk, rule["body"], press["body"]["instrument"])


def place(desk: Desk, lookup: Lookup, command: c.Place, stamp: Stamp) -> Draft:
    """A person says which step a press answers."""
    press = _press(lookup, command.press)
    seq = press["seq"]
    placed = _placed_at(desk, lookup, seq)
    if placed is not None:
        open_build(desk, placed[0].id)
    build = open_build(desk, command.build)
    step = step_of(build, command.step)
    work = build.works[step.operation]
    waiting = build.waits_for(work, step)
    if waiting:
        raise Conflict(f"{step.id} is not open yet.", mend=f"Complete {', '.join(waiting)} first.")
    body = by_person.by_person(
        desk,
        seq,
        _facts(press),
        _means(desk, lookup, press),
        build,
        step,
        reason_of(command.reason),
        desk.corrections.get(seq),
    )
    return Draft(Kind.DECISION, {**body, "act": "place"}, press)


def correct(desk: Desk, lookup: Lookup, command: c.Correct, stamp: Stamp) -> Draft:
    """A person corrects the value or unit of a press: where it is placed, or where it would have
    been but for the mistake."""
    press = _press(lookup, command.press)
    seq, facts = press["seq"], _facts(press)
    if "bracket" in press["body"]:
        raise Conflict(
            f"Reading {seq} says between which two values the size lies.",
            mend="Void it and enter the bracket again.",
        )
    before: dict[str, Any] = desk.corrections.get(seq) or press["body"]
    unit = before["unit"]
    if command.unit not in (None, unit):  # a unit nobody knows may stand as it was sent
        unit = unit_name(command.unit)
    corrected = {"digits": digits_of(command.digits), "unit": unit}
    reason = reason_of(command.reason)
    means = _means(desk, lookup, press)
    found = _placed_at(desk, lookup, seq)
    if found is not None:
        build, step = found
        open_build(desk, build.id)
        body = by_person.by_person(desk, seq, facts, means, build, step, reason, corrected)
    else:
        build, step = _pressed_for(desk, lookup, seq)
        body = by_person.corrected_by_rule(desk, seq, facts, means, build, step, reason, corrected)
    return Draft(Kind.DECISION, {**body, "act": "correct"}, press)


def _pressed_for(desk: Desk, lookup: Lookup, seq: int) -> tuple[Build, Step]:
    """The step that a press which is not placed was meant for, still unanswered."""
    newest = lookup.decision(seq)
    assert newest is not None
    reason = newest["body"]["reason"]
    if reason is None:
        step_id = newest["body"]["step"]["id"]
        raise Conflict(
            f"Reading {seq} is of an earlier pass: {step_id} was opened again since.",
            mend="Measure again; the earlier reading stays as it was.",
        )
    if reason["code"] == "void":
        raise Conflict(
            f"Reading {seq} is void.", mend="Place it on its step first, then correct it."
        )
    if reason.get("step") is None or newest["body"]["build"] is None:
        raise Conflict(
            f"Reading {seq} was not pressed for any step.",
            mend="Place it on its step first, then correct it.",
        )
    build = open_build(desk, newest["body"]["build"])
    step = step_of(build, reason["step"])
    there = build.fills[build.index[step.id]]
    if there is not None:
        raise Conflict(
            f"{step.id}, which reading {seq} was pressed for, is answered by reading "
            f"{there.press} since.",
            mend="Place this reading on the step it answers, or void the other first.",
        )
    return build, step


def void(desk: Desk, lookup: Lookup, command: c.Void, stamp: Stamp) -> Draft:
    """A person takes a press out of the count."""
    press = _press(lookup, command.press)
    seq = press["seq"]
    placed = _placed_at(desk, lookup, seq)
    if placed is not None:
        open_build(desk, placed[0].id)
    newest = lookup.decision(seq)
    reason = newest["body"]["reason"] if newest is not None else None
    if reason is not None and reason["code"] == "void":
        raise Conflict(f"Reading {seq} is void already.")
    rule = lookup.entry(seq + 1)
    if rule is not None and "zero" in rule["body"]:
        raise Conflict(
            f"Reading {seq} is a zero check: what was measured before it was judged by it.",
            mend="Measure its set again (POST /v1/builds/{id}/sets), with the gauge set anew.",
        )
    body = by_person.voided(
        seq,
        press["body"],
        _means(desk, lookup, press),
        placed[0] if placed else None,
        reason_of(command.reason),
    )
    return Draft(Kind.DECISION, {**body, "act": "void"}, press)
