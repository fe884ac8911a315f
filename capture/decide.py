"""The decision on a press: its placement and verdict, or the reason there is none.

``by_rule`` is what the service decides at the press: the body of a ``decision`` entry. ``verify``
calls ``by_table`` on the same ledger and must get the same body. What a person decides later is in
``capture.by_person``, what a drifted zero does to earlier decisions in ``capture.drift``.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from capture.assess import assessor, is_plain, judge_of
from capture.build import Build, Fill
from capture.case import Case
from capture.correlation import Shared
from capture.derive import Fills, derived_results
from capture.desk import WAYS_MOST, Desk
from capture.entry import RULES_VERSION
from capture.evaluate import Verdict, bracket_in, own_size, standard_uncertainty
from capture.fineness import finer_than_shown
from capture.finer import finer_step
from capture.means import add_set, case_of, means_now
from capture.place import objection
from capture.quantity import Number, resolution
from capture.rules.objection import Objection
from capture.rules.sets import unlike_its_set
from capture.sets import in_set, looked_at
from capture.spec.model import Kind
from capture.step import Step
from capture.way import Way, make_way

Body = dict[str, Any]


def by_rule(desk: Desk, seq: int, press: Body, boot: int, at: str, mono: int) -> Body:
    """The service's own decision on a press with this seq: what ``by_table`` gives, sooner where
    the instrument has answered a step of the same aim before (see ``capture.way``)."""
    build = desk.active_build()
    index = None if build is None else build.next_index()
    if (
        build is None
        or index is None
        or press["flags"]
        or press["instrument"] in desk.zeros_due
        or "bracket" in press
        or "trace" in press
    ):
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
        if size is not None and (not way.in_set or looked_at(build, index, size, way.u) is None):
            derived = _derived(desk, build, step, index, way.judge.on, size, way.shared)
            return _body(seq, build, step, derived[0], derived[1], way.cites)
        return by_table(desk, seq, press, boot, at, mono)
    body = by_table(desk, seq, press, boot, at, mono)
    if body["reason"] is None and _keeps(desk, press, build, step, at):
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
    case.at = index
    add_set(desk, case)
    case.zero_due = press["instrument"] in desk.zeros_due
    if step is not None and step.kind is Kind.ZERO:
        case.set_of_another = _set_of_another(desk, case)
    return by_rules(desk, seq, "rule", case)


def _set_of_another(desk: Desk, case: Case) -> str | None:
    """Another gauge suited to a zero step that has measured for this build since its last check,
    where this one has not."""
    assert case.build is not None
    assert case.step is not None

    def measured(name: str) -> bool:
        assert case.build is not None
        return any(press in case.build.press_at for press in desk.zeros[name].presses)

    if case.instrument_id in desk.zeros and measured(case.instrument_id):
        return None
    for name in desk.zeros:
        suited = desk.instruments[name].instrument.kind in case.step.instruments
        if name != case.instrument_id and suited and measured(name):
            return name
    return None


def _keeps(desk: Desk, press: Body, build: Build, step: Step, at: str) -> bool:
    """Whether the way a press has gone is that of the next ones too."""
    case = case_of(press, build, step, means_now(desk, press["instrument"]), at, (0, 0))
    if case.instrument is None or case.instrument.leaves:
        return False
    step_sent = format(resolution(case.digits), "f")
    if finer_than_shown(step_sent, case.unit, case.instrument):
        return False  # whether it is depends on the digits then: 0.0120 is, 0.0123 is not
    return is_plain(case, step, build)


def by_rules(desk: Desk, seq: int, by: str, case: Case) -> Body:
    found = objection(case)
    if found is None and case.build is not None and case.step is not None and by == "rule":
        found = unlike_its_set(case, _u(desk, case, case.build, case.step))
        if found is None:
            found = finer_step(desk.evaluator, case, case.build, case.step)
    if found is not None:
        if case.step is not None:
            found.setdefault("step", case.step.id)
        zero = found.pop("zero", None)
        body = unplaced(seq, by, case, found)
        if zero is not None:
            body["zero"] = zero
        return body
    assert case.build is not None
    assert case.step is not None
    return placed(desk, seq, by, case, case.build, case.step)


FAULT = "fault"


def faulted(desk: Desk, seq: int, press: Body) -> Body:
    """What is recorded where deciding failed by a mistake of this program's."""
    detail = "This program failed to decide on the reading; a person can place it."
    build = desk.loaded.get(desk.active) if desk.active is not None else None
    case = case_of(press, build, None, means_now(desk, press["instrument"]), "", (0, 0))
    return unplaced(seq, "rule", case, {"code": FAULT, "detail": detail})


def _u(desk: Desk, case: Case, build: Build, step: Step) -> float | None:
    """Standard uncertainty of a single reading, in the step's unit."""
    verdict = judge_of(desk.evaluator, case, build, step).verdict
    return standard_uncertainty(verdict["expanded_uncertainty"], verdict["coverage_factor"])


def _way(desk: Desk, build: Build, step: Step, press: Body, body: Body, at: str) -> Way:
    """The way just gone, for the next press on it."""
    case = case_of(press, build, step, means_now(desk, press["instrument"]), at, (0, 0))
    assert case.instrument is not None
    judge = judge_of(desk.evaluator, case, build, step)
    return make_way(
        case.instrument,
        case.setting,
        press["unit"],
        step,
        build.spec.decision.repeat_window_ms,
        judge,
        body["cites"],
        in_set(build, step),
        _u(desk, case, build, step),
        _shared(desk, case.record_seq, case.setting_seq, step),
    )


def _shared(desk: Desk, record: int, setting: int, step: Step) -> Shared:
    return desk.shared(record, setting, step.unit)


def _cites(case: Case) -> Body:
    cites: Body = {
        "instrument": case.record_seq or None,
        "setting": case.setting_seq or None,
        "spec": None if case.build is None else case.build.spec_seq,
        "build": None if case.build is None else case.build.seq,
    }
    if case.extension_seq:
        cites["extension"] = case.extension_seq
    if case.warmth_seq:
        cites["temperature"] = case.warmth_seq
    return cites


def unplaced(seq: int, by: str, case: Case, found: Objection) -> Body:
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


def placed(
    desk: Desk, seq: int, by: str, case: Case, build: Build, step: Step, moved: int | None = None
) -> Body:
    """``moved``: the index of the step this press answers until now, where it is another."""
    measured = case.measured
    assert measured is not None
    index = build.index[step.id]
    without: Fills = {} if moved is None else {moved: None}
    judge = assessor(desk.evaluator, case, build, step, index, without)
    shared = _shared(desk, case.record_seq, case.setting_seq, step)
    verdict, derived = _derived(desk, build, step, index, judge, measured, shared, without)
    body = _body(seq, build, step, verdict, derived, _cites(case))
    body["by"] = by
    zero = verdict.pop("zero", None)
    if zero is not None:
        body["zero"] = zero
    return body


def _derived(
    desk: Desk,
    build: Build,
    step: Step,
    index: int,
    judge: Callable[[Number], Verdict],
    measured: Number,
    shared: Shared,
    without: Fills = MappingProxyType({}),
) -> tuple[Verdict, list[Body]]:
    """The verdict on a size at a step, and what is derived with it there."""
    verdict = judge(measured)
    if not build.rests_on(step.subject):
        return verdict, []
    fills = {**without, index: fill_of(0, 0, verdict, measured, shared)}
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


def fill_of(press: int, seq: int, verdict: Verdict, value: Number, shared: Shared) -> Fill:
    """What a verdict puts on its step; ``value`` is this press's own size, also where the verdict
    is on the mean of repeats."""
    if "uncorrected" in verdict:  # what counts is the size at 20 °C
        value = own_size(verdict)
    bracket = verdict.get("bracket")
    return Fill(
        press,
        seq,
        value,
        verdict["expanded_uncertainty"],
        verdict["coverage_factor"],
        verdict["result"],
        shared,
        None if bracket is None else bracket_in(bracket),
    )
