"""From what a person asks to the entry that records it: checked against the state, never changing
it. Each function gives the kind and body of one entry, or raises a RequestError with the mend."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from typing import Any

from capture import act_on_gauge, act_on_reading
from capture import command as c
from capture.build import Build
from capture.derive import if_moved, if_swapped
from capture.desk import Desk
from capture.draft import Draft, Known, Lookup, open_build, reason_of, step_of
from capture.entry import Kind
from capture.errors import Conflict, NotFound, RequestError
from capture.reading import Stamp
from capture.spec.load import load
from capture.spec.model import Derived, Quantity
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
            waiting = build.waits_for(build.works[step.operation], step)
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
    if (command.part, piece) in build.pieces.scrapped:
        raise Conflict(f"{piece} was scrapped.", mend="Assign another piece.")
    displaced = build.pieces.at(command.part, command.number)
    other = build.pieces.where(command.part, piece)
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
        "piece": build.pieces.at(command.part, command.number),
        "reason": reason_of(command.reason),
    }
    return Draft(kind, body)


def _fit(desk: Desk, lookup: Lookup, command: c.AcceptFit, stamp: Stamp) -> Draft:
    build = open_build(desk, command.build)
    derived = clearance_of(build, command.derived)
    part = build.spec.characteristics[derived.of[1]].part
    order: list[list[int]] = []
    for number, piece in command.order:
        _part(build, part, number)
        there = build.pieces.where(part, piece)
        if there is None:
            raise NotFound(
                f"{piece} stands at no {part} of this build.",
                mend="Assign it first, and measure it.",
            )
        order.append([number, there])
    targets, origins = zip(*order, strict=True) if order else ((), ())
    if not order or sorted(targets) != sorted(origins) or len(set(targets)) != len(targets):
        raise RequestError(
            f"The {part} pieces named do not change places among themselves.",
            mend="Name every number that changes, each with one piece, as the proposal does.",
        )
    pieces = dict(command.order)
    body = {
        "build": build.id,
        "clearance": derived.id,
        "part": part,
        "order": order,
        "pieces": [[number, piece] for number, piece in command.order],
        "derived": if_moved(build, part, pieces, desk.evaluator),
    }
    return Draft(Kind.FIT, body)


def clearance_of(build: Build, name: str) -> Derived:
    """The clearance that parts are to be fitted for. Raises NotFound or RequestError."""
    derived = build.spec.derived.get(name)
    if derived is None:
        raise NotFound(
            f"This spec has no derived quantity {name}.",
            mend=f"It has: {', '.join(build.spec.derived) or 'none'}.",
        )
    if derived.quantity is not Quantity.CLEARANCE:
        raise RequestError(
            f"{name} is no clearance, so no parts are fitted for it.",
            mend="Name a derived quantity whose quantity is clearance.",
        )
    return derived


def _remeasure(desk: Desk, lookup: Lookup, command: c.Remeasure, stamp: Stamp) -> Draft:
    build = open_build(desk, command.build)
    press = command.reading
    if command.step is not None:
        step = step_of(build, command.step)
        fill = build.fills[build.index[step.id]]
        press = None if step.kind is not StepKind.ZERO or fill is None else fill.press
    checked = None if press is None else lookup.entry(press + 1)
    found = None if checked is None else checked["body"].get("zero")
    if press is None or found is None:
        named = command.step if command.step is not None else f"Reading {command.reading}"
        raise Conflict(
            f"{named} is no zero check that closed a set.",
            mend="Name the answered zero check whose set is to be measured again.",
        )
    # The check that opened the set opens it again: the gauge is set anew.
    presses = (found["opened"], *found["presses"], press)
    at = {build.press_at[one] for one in presses if one in build.press_at}
    body = {
        "build": build.id,
        "step": command.step,
        "reading": command.reading,
        "steps": [build.steps[index].id for index in sorted(at)],
        "reason": reason_of(command.reason),
    }
    return Draft(Kind.REMEASURE, body)


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
    c.SetGauge: act_on_gauge.set_gauge,
    c.ExpectZero: act_on_gauge.expect_zero,
    c.RecordTemperature: act_on_gauge.record_temperature,
    c.FitExtension: act_on_gauge.fit_extension,
    c.AcceptFit: _fit,
    c.Remeasure: _remeasure,
    c.SetOperator: _set_operator,
}
