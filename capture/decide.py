"""The decision on a press: its placement and verdict, or the reason there is none.

``by_rule`` is what the service decides at the press; ``by_person`` and ``voided`` what a person
decides later. Each gives the body of a ``decision`` entry; ``verify`` calls the same functions on
the same ledger and must get the same bodies.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from types import MappingProxyType
from typing import Any, NamedTuple

from capture.build import Build, Fill
from capture.case import Case, measured_at
from capture.derive import Fills, derived_results
from capture.desk import WAYS_MOST, Desk, Record, SettingRecord
from capture.entry import RULES_VERSION
from capture.errors import Conflict, NotFound, RequestError, UnitError
from capture.evaluate import Judge, Taken, Verdict
from capture.place import Objection, objection, overdue
from capture.quantity import Number, resolution
from capture.shapes import mean
from capture.spec.model import Kind
from capture.step import Step
from capture.uncertainty import expand, repeated
from capture.way import Way, make_way

Body = dict[str, Any]


class Means(NamedTuple):
    """By what a reading was taken: the records in force at its press."""

    record: Record | None
    setting: SettingRecord | None


def means_now(desk: Desk, instrument_id: str) -> Means:
    """Those in force now: for a press that is being decided as it comes."""
    return Means(desk.instruments.get(instrument_id), desk.settings.get(instrument_id))


def means_at(desk: Desk, rule: Body, instrument_id: str) -> Means:
    """Those that the service's own decision on a press cites. Where the bench had no record of the
    instrument yet, the one it has now."""
    cites = rule["cites"]
    record, setting = cites["instrument"], cites["setting"]
    return Means(
        desk.instruments.get(instrument_id) if record is None else desk.records_by_seq[record],
        None if setting is None else desk.settings_by_seq[setting],
    )


def by_rule(desk: Desk, seq: int, press: Body, boot: int, at: str, mono: int) -> Body:
    """The service's own decision on a press with this seq: what ``by_table`` gives, sooner where
    the instrument has answered a step of the same aim before (see ``capture.way``)."""
    build = desk.active_build()
    index = None if build is None else build.next_index()
    if build is None or index is None or press["flags"]:
        return by_table(desk, seq, press, boot, at, mono)
    step = build.steps[index]
    digits = press["digits"]
    name = press["instrument"]
    point = digits.find(".")
    places = 0 if point < 0 else len(digits) - point
    key = (name, press["unit"], places, build.id, step.aim, at[:10])
    way = desk.ways.get(key)
    if way is not None:
        previous = desk.presses.get(name)
        size = way.clear(Decimal(digits), digits, previous, (boot, mono), build.opened_mono)
        if size is not None:
            derived = _derived(desk, build, step, index, way.judge.on, size)
            return _body(seq, build, step, derived[0], derived[1], way.cites)
        return by_table(desk, seq, press, boot, at, mono)
    body = by_table(desk, seq, press, boot, at, mono)
    if body["reason"] is None and step.repeats == 1:
        if len(desk.ways) >= WAYS_MOST:  # a new day has new ones: the old are never asked again
            desk.ways.clear()
        desk.ways[key] = _way(desk, build, step, press, body, at)
    return body


def by_table(desk: Desk, seq: int, press: Body, boot: int, at: str, mono: int) -> Body:
    """The decision on a press by the whole table of rules."""
    build = desk.active_build()
    index = build.next_index() if build is not None else None
    step = build.steps[index] if build is not None and index is not None else None
    means = means_now(desk, press["instrument"])
    case = case_of(press, build, step, means, at, (boot, mono))
    case.previous = desk.presses.get(press["instrument"])
    return _by_rules(desk, seq, "rule", case)


def _by_rules(desk: Desk, seq: int, by: str, case: Case) -> Body:
    found = objection(case)
    if found is not None:
        if case.step is not None:
            found.setdefault("step", case.step.id)
        return _unplaced(seq, by, case, found)
    assert case.build is not None
    assert case.step is not None
    return _placed(desk, seq, by, case, case.build, case.step)


FAULT = "fault"


def faulted(desk: Desk, seq: int, press: Body) -> Body:
    """What is recorded where deciding failed by a mistake of this program's."""
    detail = "This program failed to decide on the reading; a person can place it."
    build = desk.loaded.get(desk.active) if desk.active is not None else None
    case = case_of(press, build, None, means_now(desk, press["instrument"]), "", (0, 0))
    return _unplaced(seq, "rule", case, {"code": FAULT, "detail": detail})


def case_of(
    press: Body,
    build: Build | None,
    step: Step | None,
    means: Means,
    at: str,
    stamp: tuple[int, int],
) -> Case:
    """What the rules look at. ``press`` has at least instrument, digits, unit and flags."""
    record, setting = means
    digits = press["digits"]
    return Case(
        build,
        step,
        press["instrument"],
        None if record is None else record.instrument,
        None if setting is None else setting.setting,
        Decimal(digits),
        press["unit"],
        stamp,
        at[:10],
        None,
        digits,
        press["flags"],
        0 if record is None else record.seq,
        0 if setting is None else setting.seq,
    )


def _way(desk: Desk, build: Build, step: Step, press: Body, body: Body, at: str) -> Way:
    """The way just gone, for the next press on it."""
    case = case_of(press, build, step, means_now(desk, press["instrument"]), at, (0, 0))
    assert case.instrument is not None
    window = build.spec.decision.repeat_window_ms
    judge = _judge(desk, case, build, step)
    return make_way(
        case.instrument, case.setting, press["unit"], step, window, judge, body["cites"]
    )


def _cites(case: Case) -> Body:
    build = case.build
    return {
        "instrument": case.record_seq or None,
        "setting": case.setting_seq or None,
        "spec": None if build is None else build.spec_seq,
        "build": None if build is None else build.seq,
    }


def _unplaced(seq: int, by: str, case: Case, found: Objection) -> Body:
    return {
        "press": seq,
        "by": by,
        "rules": RULES_VERSION,
        "build": None if case.build is None else case.build.id,
        "step": None,
        "reason": found,
        "verdict": {"result": "not_evaluated", "because": found["code"]},
        "derived": [],
        "cites": _cites(case),
    }


def _placed(
    desk: Desk, seq: int, by: str, case: Case, build: Build, step: Step, moved: int | None = None
) -> Body:
    """``moved``: the index of the step this press answers until now, where it is another."""
    measured = case.measured
    assert measured is not None
    index = build.index[step.id]
    without: Fills = {} if moved is None else {moved: None}
    judge: Callable[[Number], Verdict] = _judge(desk, case, build, step).on
    if step.repeats > 1:
        judge = _repeat_judge(desk, case, build, step, index, without)
    verdict, derived = _derived(desk, build, step, index, judge, measured, without)
    body = _body(seq, build, step, verdict, derived, _cites(case))
    body["by"] = by
    return body


def _derived(
    desk: Desk,
    build: Build,
    step: Step,
    index: int,
    judge: Callable[[Number], Verdict],
    measured: Number,
    without: Fills = MappingProxyType({}),
) -> tuple[Verdict, list[Body]]:
    """The verdict on a size at a step, and what is derived with it there."""
    verdict = judge(measured)
    if not build.rests_on(step.subject):
        return verdict, []
    fills = {**without, index: fill_of(0, 0, verdict, measured)}
    return verdict, derived_results(build, step.subject, step.number, fills, desk.evaluator)


def _body(
    seq: int, build: Build, step: Step, verdict: Verdict, derived: list[Body], cites: Body
) -> Body:
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


def fill_of(press: int, seq: int, verdict: Verdict, value: Number) -> Fill:
    """What a verdict puts on its step; ``value`` is this press's own size, also where the verdict
    is on the mean of repeats."""
    return Fill(
        press,
        seq,
        value,
        verdict["expanded_uncertainty"],
        verdict["coverage_factor"],
        verdict["result"],
    )


def _taken(case: Case, step: Step) -> Taken:
    return Taken(case.record_seq, case.setting_seq, resolution(case.digits), case.unit, step.unit)


def _notes(case: Case) -> tuple[str, ...]:
    assert case.instrument is not None
    due = overdue(case.instrument, case.day)
    return () if due is None else (f"calibration of {case.instrument_id} was due on {due}",)


def _judge(desk: Desk, case: Case, build: Build, step: Step) -> Judge:
    """What judges single readings taken this way."""
    assert case.instrument is not None
    decision, evaluator = build.spec.decision, desk.evaluator
    expanded = evaluator.expanded(
        _taken(case, step), case.instrument, case.setting, decision.coverage_factor
    )
    return evaluator.judge(step.unit, step.limits, decision, expanded, _notes(case))


def _repeat_judge(
    desk: Desk, case: Case, build: Build, step: Step, index: int, without: Fills
) -> Callable[[Number], Verdict]:
    """What judges one of several repeats: all of them together, once all are there."""
    others = [
        without[at] if at in without else build.fills[at]
        for at in build.repeats(index)
        if at != index
    ]
    values = [fill.value for fill in others if fill is not None and fill.value is not None]

    def judge(measured: Number) -> Verdict:
        alone = _judge(desk, case, build, step).on(measured)
        count = len(values) + 1
        if count < step.repeats:
            alone["result"] = "not_evaluated"
            alone["because"] = "repeats"
            alone["notes"] = [*_notes(case), f"{count} of {step.repeats} repeats"]
        else:
            alone = _of_repeats(desk, case, build, step, [*values, measured], alone)
        alone["this"] = _exact(measured)
        return alone

    return judge


FEW = 10.0
"""Effective degrees of freedom below which k = 2 covers clearly less than 95 %."""


COARSE = "instrument too coarse for this tolerance"
SCATTER = "repeats differ too much for this tolerance"


def _of_repeats(
    desk: Desk, case: Case, build: Build, step: Step, values: list[Number], alone: Verdict
) -> Verdict:
    """The verdict on the mean of repeats, their scatter in its uncertainty. ``alone`` is the one
    on a single of them: where that is sure enough and the mean is not, the repeats scatter."""
    assert case.instrument is not None
    decision, evaluator = build.spec.decision, desk.evaluator
    notes = (*_notes(case), f"mean of {len(values)} repeats")
    budget = evaluator.budget(_taken(case, step), case.instrument, case.setting)
    expanded = None
    if budget is not None:
        whole = repeated(budget, values)
        expanded = expand(whole.standard_uncertainty, decision.coverage_factor)
        if whole.degrees_of_freedom < FEW:
            notes = (*notes, "few repeats: the expanded uncertainty covers less than it says")
    verdict = evaluator.judge(step.unit, step.limits, decision, expanded, notes).on(mean(values))
    if COARSE in verdict["notes"] and COARSE not in alone["notes"]:
        verdict["notes"] = [SCATTER if note == COARSE else note for note in verdict["notes"]]
    return verdict


def _exact(value: Number) -> str:
    return format(value, "f") if isinstance(value, Decimal) else str(value)


def by_person(
    desk: Desk,
    seq: int,
    press: Body,
    means: Means,
    build: Build,
    step: Step,
    reason: str,
    corrected: Body | None,
) -> Body:
    """A person's decision that a press (as corrected, if so) answers a step.

    ``press`` is its body with ``at``; ``means`` what it was taken by.
    """
    if step.kind is Kind.CONFIRM:
        raise Conflict(f"{step.id} asks for a confirmation, not a reading.")
    at = build.index[step.id]
    there = build.fills[at]
    if there is not None and there.press != seq:
        raise Conflict(
            f"{step.id} is already answered by reading {there.press}.",
            mend=f"Void reading {there.press} first, with a reason.",
        )
    case = _case_as_stored(press, means, build, step, corrected)
    moved = build.press_at.get(seq)
    body = _placed(desk, seq, "person", case, build, step, None if moved == at else moved)
    body["because"] = reason
    if corrected is not None:
        body["corrected"] = corrected
    return body


def _case_as_stored(
    press: Body, means: Means, build: Build, step: Step, corrected: Body | None
) -> Case:
    name = press["instrument"]
    if means.record is None:
        raise NotFound(f"This bench has no record of an instrument {name}.")
    if means.record.instrument.comparative and means.setting is None:
        raise Conflict(
            f"{name} was not set on a standard when this was pressed, so its size is not known.",
            mend="Measure again, now that the gauge is set.",
        )
    case = case_of({**press, **(corrected or {})}, build, step, means, press["at"], (0, 0))
    try:
        case.measured = measured_at(case, step.unit)
    except UnitError as error:
        raise RequestError(str(error), mend="Correct the reading's unit.") from error
    return case


def corrected_by_rule(
    desk: Desk,
    seq: int,
    press: Body,
    means: Means,
    build: Build,
    step: Step,
    reason: str,
    corrected: Body,
) -> Body:
    """A person corrects a press that is not placed: the rules are asked again, with the corrected
    value, about the step it was pressed for. That it repeats an earlier press or is late no longer
    counts, since a person vouches."""
    case = case_of({**press, **corrected}, build, step, means, press["at"], (0, 0))
    body = _by_rules(desk, seq, "person", case)
    body["because"] = reason
    body["corrected"] = corrected
    return body


def voided(seq: int, press: Body, means: Means, build: Build | None, reason: str) -> Body:
    """A person's decision that a press does not count."""
    case = case_of(press, build, None, means, "", (0, 0))
    body = _unplaced(seq, "person", case, {"code": "void", "detail": reason})
    body["because"] = reason
    return body
