"""The decision on a press: its placement and verdict, or the reason there is none.

``by_rule`` is what the service decides at the press; ``by_person`` and ``voided`` what a person
decides later. Each gives the body of a ``decision`` entry; ``verify`` calls the same functions on
the same ledger and must get the same bodies.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from capture.build import Build, Fill
from capture.case import Case, measured_at
from capture.derive import derived_results
from capture.desk import WAYS_MOST, Desk
from capture.entry import RULES_VERSION
from capture.errors import Conflict, NotFound, RequestError, UnitError
from capture.evaluate import Evaluator, Judge, Taken, Verdict, measured_of
from capture.instrument import Instrument
from capture.place import Objection, objection, overdue
from capture.quantity import Number, resolution
from capture.shapes import mean
from capture.spec.model import Decision, Kind
from capture.step import Step
from capture.uncertainty import Budget, Setting, expand, repeated
from capture.way import Way, make_way

Body = dict[str, Any]


def by_rule(desk: Desk, seq: int, press: Body, boot: int, at: str, mono: int) -> Body:
    """The service's own decision on a press with this seq: what ``by_table`` gives, sooner where
    the instrument has answered a step of the same aim before (see ``capture.way``)."""
    build = desk.active_build()
    index = None if build is None else build.next_index()
    if build is None or index is None:
        return by_table(desk, seq, press, boot, at, mono)
    step = build.steps[index]
    digits = press["digits"]
    name = press["instrument"]
    key = (name, press["unit"], len(digits) - digits.find("."), build.id, step.aim, at[:10])
    way = desk.ways.get(key)
    if way is not None:
        previous = desk.presses.get(name)
        size = way.clear(Decimal(digits), digits, previous, (boot, mono), build.opened_mono)
        if size is not None:
            return _body(desk, seq, build, step, index, way.judge(size), size, way.cites)
        return by_table(desk, seq, press, boot, at, mono)
    body = by_table(desk, seq, press, boot, at, mono)
    if body["reason"] is None and step.repeats == 1:
        if len(desk.ways) >= WAYS_MOST:  # a new day has new ones: the old are never asked again
            desk.ways.clear()
        desk.ways[key] = _way(desk, build, step, press, body, at[:10])
    return body


def by_table(desk: Desk, seq: int, press: Body, boot: int, at: str, mono: int) -> Body:
    """The decision on a press by the whole table of rules."""
    case = case_of(desk, press, boot, at, mono)
    found = objection(case)
    if found is not None:
        return _unplaced(desk, seq, "rule", case.build, case.instrument_id, found)
    assert case.build is not None
    assert case.step is not None
    return _placed(desk, seq, "rule", case, case.build, case.step)


FAULT = "fault"


def faulted(desk: Desk, seq: int, press: Body) -> Body:
    """What is recorded where deciding failed by a mistake of this program's."""
    detail = "This program failed to decide on the reading; a person can place it."
    build = desk.loaded.get(desk.active) if desk.active is not None else None
    found = {"code": FAULT, "detail": detail}
    return _unplaced(desk, seq, "rule", build, press["instrument"], found)


def case_of(desk: Desk, press: Body, boot: int, at: str, mono: int) -> Case:
    """What the rules look at, for a press as stored."""
    build = desk.active_build()
    index = build.next_index() if build is not None else None
    instrument_id = press["instrument"]
    record = desk.instruments.get(instrument_id)
    setting = desk.settings.get(instrument_id)
    digits = press["digits"]
    return Case(
        build,
        build.steps[index] if build is not None and index is not None else None,
        instrument_id,
        record.instrument if record is not None else None,
        setting.setting if setting is not None else None,
        Decimal(digits),
        press["unit"],
        (boot, mono),
        at[:10],
        desk.presses.get(instrument_id),
        digits,
    )


def _way(desk: Desk, build: Build, step: Step, press: Body, body: Body, day: str) -> Way:
    """The way just gone, for the next press on it."""
    name = press["instrument"]
    instrument = desk.instruments[name].instrument
    setting = desk.settings.get(name)
    return make_way(
        instrument,
        None if setting is None else setting.setting,
        press["unit"],
        step,
        build.spec.decision.repeat_window_ms,
        _judge(desk, name, press["digits"], press["unit"], build, step, day),
        body["cites"],
    )


def _cites(desk: Desk, build: Build | None, instrument_id: str) -> Body:
    record = desk.instruments.get(instrument_id)
    setting = desk.settings.get(instrument_id)
    return {
        "instrument": None if record is None else record.seq,
        "setting": None if setting is None else setting.seq,
        "spec": None if build is None else build.spec_seq,
        "build": None if build is None else build.seq,
    }


def _unplaced(
    desk: Desk, seq: int, by: str, build: Build | None, instrument_id: str, found: Objection
) -> Body:
    return {
        "press": seq,
        "by": by,
        "rules": RULES_VERSION,
        "build": None if build is None else build.id,
        "step": None,
        "reason": found,
        "verdict": {"result": "not_evaluated", "because": found["code"]},
        "derived": [],
        "cites": _cites(desk, build, instrument_id),
    }


def _placed(desk: Desk, seq: int, by: str, case: Case, build: Build, step: Step) -> Body:
    assert case.measured is not None
    index = build.index[step.id]
    verdict = _verdict(desk, case, build, step, index, case.measured)
    cites = _cites(desk, build, case.instrument_id)
    body = _body(desk, seq, build, step, index, verdict, case.measured, cites)
    body["by"] = by
    return body


def _body(
    desk: Desk,
    seq: int,
    build: Build,
    step: Step,
    index: int,
    verdict: Verdict,
    measured: Number,
    cites: Body,
) -> Body:
    derived: list[Body] = []
    if build.rests_on(step.subject):
        fill = fill_of(seq, 0, verdict, measured)
        derived = derived_results(build, step.subject, step.number, {index: fill}, desk.evaluator)
    return {
        "press": seq,
        "by": "rule",
        "rules": RULES_VERSION,
        "build": build.id,
        "step": build.placement(step),
        "reason": None,
        "verdict": verdict,
        "derived": derived,
        "cites": cites,
    }


def fill_of(press: int, seq: int, verdict: Verdict, value: Number | None = None) -> Fill:
    """What a verdict puts on its step. ``value``: this press's own size where the verdict is on
    the mean of repeats."""
    return Fill(
        press,
        seq,
        measured_of(verdict) if value is None else value,
        verdict["expanded_uncertainty"],
        verdict["coverage_factor"],
        verdict["result"],
    )


def _verdict(
    desk: Desk, case: Case, build: Build, step: Step, at: int, measured: Number
) -> Verdict:
    name, digits, unit = case.instrument_id, case.digits, case.unit
    if step.repeat > 1:
        earlier = (build.fills[i] for i in range(at - step.repeat + 1, at))
        values = [fill.value for fill in earlier if fill is not None and fill.value is not None]
        if values:
            values.append(measured)
            taken = _taken(desk, name, digits, unit, step)
            budget = desk.evaluator.budget(taken, *_of(desk, name))
            notes = _notes(desk, name, case.day)
            return _of_repeats(desk.evaluator, budget, values, step, build.spec.decision, notes)
    return _judge(desk, name, digits, unit, build, step, case.day)(measured)


def _of(desk: Desk, name: str) -> tuple[Instrument, Setting | None]:
    setting = desk.settings.get(name)
    return desk.instruments[name].instrument, None if setting is None else setting.setting


def _taken(desk: Desk, name: str, digits: str, unit: str, step: Step) -> Taken:
    setting = desk.settings.get(name)
    setting_seq = 0 if setting is None else setting.seq
    record = desk.instruments[name]
    return Taken(record.seq, setting_seq, resolution(digits), unit, step.unit)


def _notes(desk: Desk, name: str, day: str) -> tuple[str, ...]:
    due = overdue(desk.instruments[name].instrument, day)
    return () if due is None else (f"calibration of {name} was due on {due}",)


def _judge(
    desk: Desk, name: str, digits: str, unit: str, build: Build, step: Step, day: str
) -> Judge:
    """What judges single readings taken this way."""
    decision, evaluator = build.spec.decision, desk.evaluator
    taken = _taken(desk, name, digits, unit, step)
    expanded = evaluator.expanded(taken, *_of(desk, name), decision.coverage_factor)
    notes = _notes(desk, name, day)
    return evaluator.judge(step.unit, step.limits, decision, expanded, notes)


FEW = 10.0
"""Effective degrees of freedom below which k = 2 covers clearly less than 95 %."""


def _of_repeats(
    evaluator: Evaluator,
    budget: Budget | None,
    values: list[Number],
    step: Step,
    decision: Decision,
    notes: tuple[str, ...],
) -> Verdict:
    """The verdict on the mean of repeats, their scatter in its uncertainty."""
    notes = (*notes, f"mean of {len(values)} repeats")
    expanded = None
    if budget is not None:
        whole = repeated(budget, values)
        expanded = expand(whole.standard_uncertainty, decision.coverage_factor)
        if whole.degrees_of_freedom < FEW:
            notes = (*notes, "few repeats: the expanded uncertainty covers less than it says")
    verdict = evaluator.judge(step.unit, step.limits, decision, expanded, notes)(mean(values))
    verdict["this"] = _exact(values[-1])
    return verdict


def _exact(value: Number) -> str:
    return format(value, "f") if isinstance(value, Decimal) else str(value)


def by_person(
    desk: Desk, seq: int, press: Body, build: Build, step: Step, reason: str, corrected: Body | None
) -> Body:
    """A person's decision that a press (as corrected, if so) answers a step."""
    if step.kind is Kind.CONFIRM:
        raise Conflict(f"{step.id} asks for a confirmation, not a reading.")
    at = build.index[step.id]
    there = build.fills[at]
    if there is not None and there.press != seq:
        raise Conflict(
            f"{step.id} is already answered by reading {there.press}.",
            mend=f"Void reading {there.press} first, with a reason.",
        )
    case = _case_as_stored(desk, press, build, step, corrected)
    body = _placed(desk, seq, "person", case, build, step)
    body["because"] = reason
    if corrected is not None:
        body["corrected"] = corrected
    return body


def _case_as_stored(
    desk: Desk, press: Body, build: Build, step: Step, corrected: Body | None
) -> Case:
    instrument_id = press["instrument"]
    record = desk.instruments.get(instrument_id)
    if record is None:
        raise NotFound(f"This bench has no record of an instrument {instrument_id}.")
    setting = desk.settings.get(instrument_id)
    sent = corrected or press
    case = Case(
        build,
        step,
        instrument_id,
        record.instrument,
        None if setting is None else setting.setting,
        Decimal(sent["digits"]),
        sent["unit"],
        (0, 0),
        press["at"][:10],
        None,
        sent["digits"],
    )
    try:
        case.measured = measured_at(case, step.unit)
    except UnitError as error:
        raise RequestError(str(error), mend="Correct the reading's unit.") from error
    except ValueError as error:
        raise Conflict(str(error), mend="Say which standard the gauge was set on.") from error
    return case


def corrected_by_rule(desk: Desk, seq: int, press: Body, reason: str, corrected: Body) -> Body:
    """A person corrects a press that is not placed: the rules are asked again with the corrected
    value. That it repeats an earlier press or is late no longer counts, since a person vouches."""
    case = case_of(desk, {**press, **corrected}, 0, press["at"], 0)
    case.previous = None
    found = objection(case)
    if found is not None:
        body = _unplaced(desk, seq, "person", case.build, case.instrument_id, found)
    else:
        assert case.build is not None
        assert case.step is not None
        body = _placed(desk, seq, "person", case, case.build, case.step)
    body["because"] = reason
    body["corrected"] = corrected
    return body


def voided(desk: Desk, seq: int, press: Body, build: Build | None, reason: str) -> Body:
    """A person's decision that a press does not count."""
    found = {"code": "void", "detail": reason}
    body = _unplaced(desk, seq, "person", build, press["instrument"], found)
    body["because"] = reason
    return body
