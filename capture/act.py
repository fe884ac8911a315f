"""From what a person asks to the entry that records it: checked against the state, never changing
it. Each function gives the kind and body of one entry, or raises a RequestError with the mend."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from capture import act_on_reading
from capture import command as c
from capture.build import Build
from capture.derive import if_swapped
from capture.desk import Desk
from capture.draft import Draft, Known, Lookup, open_build, reason_of, step_of
from capture.entry import Kind
from capture.errors import Conflict, NotFound, RequestError
from capture.quantity import dimension, unit_name
from capture.reading import Stamp
from capture.spec.load import load
from capture.spec.model import Kind as StepKind


def act(desk: Desk, lookup: Lookup, command: c.Command, stamp: Stamp) -> Draft | Known:
    """The entry that records a command. ``TypeReading`` is a press and not handled here."""
    handler = _HANDLERS[type(command)]
    return handler(desk, lookup, command, stamp)


def _part(build: Build, part: str, number: int) -> None:
    known = build.spec.parts.get(part)
    if known is None:
        raise NotFound(
            f"This spec has no part {part}.", mend=f"Its parts: {', '.join(build.spec.parts)}."
        )
    if not 1 <= number <= known.count:
        raise NotFound(
            f"There is no {part} {number}.", mend=f"Its numbers run from 1 to {known.count}."
        )


def _add_spec(desk: Desk, lookup: Lookup, command: c.AddSpec, stamp: Stamp) -> Draft | Known:
    data = command.text.encode()
    digest = hashlib.sha256(data).hexdigest()
    there = desk.specs.get(digest)
    if there is not None:
        return Known(there.seq)
    spec = load(data, command.file)
    body = {
        "hash": digest,
        "file": command.file,
        "name": spec.id,
        "title": spec.title,
        "revision": spec.revision,
        "text": command.text,
    }
    return Draft(Kind.SPEC, body)


def _spec_hash(desk: Desk, given: str) -> str:
    found = [known for known in desk.specs if known == given or known.startswith(given)]
    if len(found) == 1 and len(given) >= 8:
        return found[0]
    raise NotFound(
        f"There is no spec {given}.",
        mend="Send the spec first (POST /v1/specs) and use the id it answers with.",
    )


def _open(desk: Desk, lookup: Lookup, command: c.OpenBuild, stamp: Stamp) -> Draft:
    digest = _spec_hash(desk, command.spec)
    record = desk.specs[digest]
    title = command.title.strip() or record.spec.title
    return Draft(Kind.BUILD, {"spec": digest, "spec_seq": record.seq, "title": title})


def _activate(desk: Desk, lookup: Lookup, command: c.ActivateBuild, stamp: Stamp) -> Draft:
    return Draft(Kind.ACTIVATE, {"build": open_build(desk, command.build).id})


def _close(desk: Desk, lookup: Lookup, command: c.CloseBuild, stamp: Stamp) -> Draft:
    build = open_build(desk, command.build)
    return Draft(Kind.CLOSE, {"build": build.id, "reason": command.reason.strip()})


def _choose(desk: Desk, lookup: Lookup, command: c.ChooseStep, stamp: Stamp) -> Draft:
    build = open_build(desk, command.build)
    if command.step is not None:
        step = step_of(build, command.step)
        at = build.index[step.id]
        if build.fills[at] is not None:
            raise Conflict(
                f"{step.id} is already answered.", mend="Void its reading first, with a reason."
            )
        if not build.is_open(at):
            after = build.works[step.operation].operation.after
            waiting = [name for name in after if not build.works[name].complete]
            raise Conflict(
                f"{step.id} is not open yet.", mend=f"Complete {', '.join(waiting)} first."
            )
    return Draft(Kind.CHOOSE, {"build": build.id, "step": command.step})


def _confirm(desk: Desk, lookup: Lookup, command: c.Confirm, stamp: Stamp) -> Draft:
    build = open_build(desk, command.build)
    step = step_of(build, command.step)
    if step.kind is not StepKind.CONFIRM:
        raise Conflict(
            f"{step.id} cannot be confirmed by hand: it is a step to {step.kind.value}.",
            mend="Press SEND on its instrument.",
        )
    at = build.index[step.id]
    if build.fills[at] is not None:
        raise Conflict(f"{step.id} is already confirmed.")
    if not build.is_open(at):
        raise Conflict(f"{step.id} is not open yet.", mend="Complete the steps before it first.")
    confirmation = build.spec.confirmations[step.subject]
    body = {
        "build": build.id,
        "step": step.id,
        "confirmation": step.subject,
        "number": step.number,
        "text": confirmation.text,
        "note": command.note.strip(),
    }
    return Draft(Kind.CONFIRMATION, body)


def _assign(desk: Desk, lookup: Lookup, command: c.Assign, stamp: Stamp) -> Draft:
    build = open_build(desk, command.build)
    _part(build, command.part, command.number)
    piece = command.piece.strip()
    if not piece:
        raise RequestError("The piece needs a name.", mend="Use the mark on it.")
    if (command.part, piece) in build.scrapped:
        raise Conflict(f"{piece} was scrapped.", mend="Assign another piece.")
    displaced = build.piece(command.part, command.number)
    other = build.where(command.part, piece)
    derived: list[dict[str, Any]] = []
    if other is not None and other != command.number:
        # Only a change of places brings sizes along; a piece new to the build has none.
        derived = if_swapped(build, command.part, command.number, other, desk.evaluator)
    body = {
        "build": build.id,
        "part": command.part,
        "number": command.number,
        "piece": piece,
        "displaced": displaced,
        "displaced_to": other,
        "derived": derived,
    }
    return Draft(Kind.ASSIGN, body)


def _rework(desk: Desk, lookup: Lookup, command: c.Rework, stamp: Stamp) -> Draft:
    return _work_again(Kind.REWORK, desk, command)


def _scrap(desk: Desk, lookup: Lookup, command: c.Scrap, stamp: Stamp) -> Draft:
    return _work_again(Kind.SCRAP, desk, command)


def _work_again(kind: Kind, desk: Desk, command: c.Rework | c.Scrap) -> Draft:
    build = open_build(desk, command.build)
    _part(build, command.part, command.number)
    body = {
        "build": build.id,
        "part": command.part,
        "number": command.number,
        "piece": build.piece(command.part, command.number),
        "reason": reason_of(command.reason),
    }
    return Draft(kind, body)


def _concede(desk: Desk, lookup: Lookup, command: c.Concede, stamp: Stamp) -> Draft:
    build = open_build(desk, command.build)
    held = {hold for work in build.works.values() for hold in work.holds}
    subject = command.subject
    if subject not in held and subject in build.index:
        subject = build.steps[build.index[subject]].subject_id
    if subject not in held:
        raise Conflict(
            f"{command.subject} holds nothing: there is no unsettled result there.",
            mend=f"Results that wait to be settled: {', '.join(sorted(held)) or 'none'}.",
        )
    body = {"build": build.id, "subject": subject, "reason": reason_of(command.reason)}
    return Draft(Kind.CONCESSION, body)


# the bench ---------------------------------------------------------------------------------------


def _set_gauge(desk: Desk, lookup: Lookup, command: c.SetGauge, stamp: Stamp) -> Draft:
    record = desk.instruments.get(command.instrument)
    if record is None:
        raise NotFound(
            f"This bench has no instrument {command.instrument}.",
            mend=f"It has: {', '.join(desk.instruments)}.",
        )
    if not record.instrument.comparative:
        raise Conflict(
            f"{command.instrument} reads sizes, not deviations from a standard.",
            mend="Only gauges with comparative = true in bench.toml are set on a standard.",
        )
    unit = unit_name(command.unit)
    if dimension(unit) != dimension(record.instrument.unit):
        raise RequestError(
            f"A standard in {unit} does not suit a gauge in {record.instrument.unit}.",
            mend="Give the size in a unit of the same dimension.",
        )
    _positive("The size of a standard", command.size)
    if (command.expanded_uncertainty is None) != (command.coverage_factor is None):
        raise RequestError(
            "Expanded uncertainty and coverage factor belong together.", mend="Give both or none."
        )
    if command.expanded_uncertainty is not None and command.coverage_factor is not None:
        _positive("An expanded uncertainty", command.expanded_uncertainty)
        _positive("A coverage factor", command.coverage_factor)
    body = {
        "instrument": command.instrument,
        "standard": command.standard.strip() or "unnamed standard",
        "size": format(command.size, "f"),
        "unit": unit,
        "expanded_uncertainty": _text(command.expanded_uncertainty),
        "coverage_factor": _text(command.coverage_factor),
    }
    return Draft(Kind.SETTING, body)


def _positive(what: str, value: Decimal) -> None:
    if not value.is_finite() or value <= 0 or abs(value.adjusted()) > 20:
        raise RequestError(f"{what} must be a number above zero.", mend="Check the digits.")


def _text(value: Decimal | None) -> str | None:
    return None if value is None else format(value, "f")


def _set_operator(desk: Desk, lookup: Lookup, command: c.SetOperator, stamp: Stamp) -> Draft:
    name = command.operator.strip()
    if not name:
        raise RequestError("The operator needs a name.", mend="Give a name or initials.")
    return Draft(Kind.OPERATOR, {"operator": name})


_HANDLERS: dict[type[Any], Callable[[Desk, Lookup, Any, Stamp], Draft | Known]] = {
    c.AddSpec: _add_spec,
    c.OpenBuild: _open,
    c.ActivateBuild: _activate,
    c.CloseBuild: _close,
    c.ChooseStep: _choose,
    c.Confirm: _confirm,
    c.Assign: _assign,
    c.Rework: _rework,
    c.Concede: _concede,
    c.Scrap: _scrap,
    c.Place: act_on_reading.place,
    c.Correct: act_on_reading.correct,
    c.Void: act_on_reading.void,
    c.SetGauge: _set_gauge,
    c.SetOperator: _set_operator,
}
