"""The verdict on a size at a step: single, one of repeats, a bracket, brought to 20 °C, a zero.

``assessor`` gives what judges a size there; what it rests on (instrument, setting, limits as they
now are, the other repeats) is looked up once.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal

from capture.bracket import Bracket, By, advice, converted, estimate, narrowed
from capture.bracket import judge as judge_bracket
from capture.build import Build
from capture.case import Case, at_fastener
from capture.check import Result
from capture.derive import Fills
from capture.evaluate import Evaluator, Judge, Taken, Verdict, standard_uncertainty
from capture.factored import limits_of
from capture.quantity import Number, brief, convert, plain, resolution, text
from capture.rules.bench import overdue
from capture.shapes import mean
from capture.spec.model import Kind, Limits
from capture.step import Step
from capture.uncertainty import Contribution, combine, expand, repeated, root_sum
from capture.warm import Warmed, warmed
from capture.zero import checked, sentence

Assessor = Callable[[Number], Verdict]

FEW = 10.0
"""Effective degrees of freedom below which k = 2 covers clearly less than 95 %."""
COARSE = "instrument too coarse for this tolerance"
SCATTER = "repeats differ too much for this tolerance"
NO_LIMITS = Limits(None, None)


def is_plain(case: Case, step: Step, build: Build) -> bool:
    """Whether the verdict is the judge's alone, the same for every size taken this way."""
    if step.repeats > 1 or step.kind in (Kind.ZERO, Kind.TIGHTEN) or case.bracket is not None:
        return False
    if case.extension is not None or case.pull is not None:
        return False
    one = build.spec.characteristics.get(step.subject) if step.kind is Kind.MEASURE else None
    return one is None or (one.factors is None and one.expansion is None)


def assessor(
    evaluator: Evaluator, case: Case, build: Build, step: Step, index: int, without: Fills
) -> Assessor:
    """What gives the verdict on a size at a step. ``without``: fills as they are about to be."""
    if step.kind is Kind.ZERO:
        return _zero(case, step)
    if case.bracket is not None:
        return _bracket(evaluator, case, build, step, index, without)
    warm = warmed(case, build, step)
    judge = _judging(evaluator, case, build, step, warm)
    if step.kind is Kind.TIGHTEN:
        judge = _in_order(judge, build, step, index)
    if step.repeats > 1:
        judge = _repeats(evaluator, case, build, step, index, without, warm, judge)
    return judge if warm is None else _corrected(judge, warm)


def judge_of(evaluator: Evaluator, case: Case, build: Build, step: Step) -> Judge:
    """What judges single readings taken this way, as they are."""
    assert case.instrument is not None
    decision = build.spec.decision
    expanded = evaluator.expanded(
        taken(case, step), case.instrument, case.setting, decision.coverage_factor
    )
    limits = limits_of(build, step)
    return evaluator.judge(step.unit, limits or NO_LIMITS, decision, expanded, notes_of(case))


def taken(case: Case, step: Step) -> Taken:
    return Taken(case.record_seq, case.setting_seq, resolution(case.digits), case.unit, step.unit)


def notes_of(case: Case) -> tuple[str, ...]:
    """What a reader of any verdict on this reading must know."""
    assert case.instrument is not None
    due = overdue(case.instrument, case.day)
    found = [] if due is None else [f"calibration of {case.instrument_id} was due on {due}"]
    if case.extension is not None:
        found.append(
            f"torque at the fastener, of {case.digits} {case.unit} at a tool of "
            f"{plain(case.extension.tool_length)} {case.extension.unit} with an extension of "
            f"{plain(case.extension.length)} at {plain(case.extension.angle)}°"
        )
    if case.pull is not None:
        found += case.pull["sentences"]
    return tuple(found)


# one reading ---------------------------------------------------------------------------------


def _judging(
    evaluator: Evaluator, case: Case, build: Build, step: Step, warm: Warmed | None
) -> Assessor:
    if warm is None or not warm.contributions:
        return judge_of(evaluator, case, build, step).on
    expanded = _expanded(evaluator, case, build, step, warm.contributions)
    limits = limits_of(build, step) or NO_LIMITS
    return evaluator.judge(step.unit, limits, build.spec.decision, expanded, notes_of(case)).on


def _expanded(
    evaluator: Evaluator, case: Case, build: Build, step: Step, more: Sequence[Contribution]
) -> Decimal | None:
    assert case.instrument is not None
    budget = evaluator.budget(taken(case, step), case.instrument, case.setting)
    if budget is None:
        return None
    whole = combine([*budget.contributions, *more])
    return expand(whole.standard_uncertainty, build.spec.decision.coverage_factor)


def _corrected(judge: Assessor, warm: Warmed) -> Assessor:
    """The verdict on the size at 20 °C, the uncorrected one beside it."""

    def on(measured: Number) -> Verdict:
        corrected = warm.corrected(measured)
        verdict = judge(corrected.value)
        verdict["uncorrected"] = brief(measured)
        verdict["correction"] = brief(corrected.correction)
        verdict["temperatures"] = warm.temperatures
        verdict["notes"] = [*verdict["notes"], *warm.notes(corrected)]
        return verdict

    return on


def _in_order(judge: Assessor, build: Build, step: Step, index: int) -> Assessor:
    """Names the fasteners that should have come before."""
    work = build.works[step.operation]
    skipped = [build.steps[at].number for at in range(work.start, index) if build.fills[at] is None]
    if not skipped:
        return judge
    note = (
        f"out of order: {step.part} {step.number} ({step.point}) before "
        f"{', '.join(map(str, skipped[:6]))}{' and others' if len(skipped) > 6 else ''}"
    )

    def on(measured: Number) -> Verdict:
        verdict = judge(measured)
        verdict["notes"] = [*verdict["notes"], note]
        return verdict

    return on


# repeats -------------------------------------------------------------------------------------


def _repeats(
    evaluator: Evaluator,
    case: Case,
    build: Build,
    step: Step,
    index: int,
    without: Fills,
    warm: Warmed | None,
    single: Assessor,
) -> Assessor:
    """What judges one of several repeats: all of them together, once all are there."""
    others = [
        without[at] if at in without else build.fills[at]
        for at in build.repeats(index)
        if at != index
    ]
    values = [fill.value for fill in others if fill is not None and fill.value is not None]
    more = () if warm is None else warm.contributions

    def judge(measured: Number) -> Verdict:
        alone = single(measured)
        count = len(values) + 1
        if count < step.repeats:
            alone["result"] = Result.NOT_EVALUATED.value
            alone["because"] = "repeats"
            alone["notes"] = [*notes_of(case), f"{count} of {step.repeats} repeats"]
        else:
            alone = _of_repeats(evaluator, case, build, step, [*values, measured], alone, more)
        alone["this"] = _exact(measured)
        return alone

    return judge


def _of_repeats(
    evaluator: Evaluator,
    case: Case,
    build: Build,
    step: Step,
    values: list[Number],
    alone: Verdict,
    more: Sequence[Contribution],
) -> Verdict:
    """The verdict on the mean of repeats, their scatter in its uncertainty. ``alone`` is the one
    on a single of them: where that is sure enough and the mean is not, the repeats scatter."""
    assert case.instrument is not None
    decision = build.spec.decision
    notes = (*notes_of(case), f"mean of {len(values)} repeats")
    budget = evaluator.budget(taken(case, step), case.instrument, case.setting)
    expanded = None
    if budget is not None:
        whole = repeated(combine([*budget.contributions, *more]) if more else budget, values)
        expanded = expand(whole.standard_uncertainty, decision.coverage_factor)
        if whole.degrees_of_freedom < FEW:
            notes = (*notes, "few repeats: the expanded uncertainty covers less than it says")
    limits = limits_of(build, step) or NO_LIMITS
    verdict = evaluator.judge(step.unit, limits, decision, expanded, notes).on(mean(values))
    if COARSE in verdict["notes"] and COARSE not in alone["notes"]:
        verdict["notes"] = [SCATTER if note == COARSE else note for note in verdict["notes"]]
    return verdict


def _exact(value: Number) -> str:
    return format(value, "f") if isinstance(value, Decimal) else str(value)


# brackets ------------------------------------------------------------------------------------


def bracket_of(case: Case, step: Step) -> Bracket:
    """Between which values a bracketed size lies, in the step's unit."""
    assert case.bracket is not None
    assert case.instrument is not None
    by = By.LEAVES if case.instrument.leaves else By.SETTINGS
    lower, upper = (
        None if end is None else Decimal(end)
        for end in (case.bracket["lower"], case.bracket["upper"])
    )
    found = converted(Bracket(lower, upper, by), case.unit, step.unit)
    if by is By.LEAVES:
        # Not even the thinnest goes: a gap is nothing at the least.
        return found if found.lower is not None else Bracket(Decimal(0), found.upper, by)
    low, high = (None if end is None else at_fastener(case, end) for end in found[:2])
    return Bracket(low, high, by)


def _bracket(
    evaluator: Evaluator, case: Case, build: Build, step: Step, index: int, without: Fills
) -> Assessor:
    """The whole interval is judged, under a guard band for the leaves' or tool's own U. Of repeats
    it is what all of them leave possible."""
    judge = judge_of(evaluator, case, build, step)
    own = bracket_of(case, step)
    others = [
        fill.bracket
        for at in build.repeats(index)
        if at != index and (fill := without.get(at, build.fills[at])) is not None
        if fill.bracket is not None
    ]
    k = build.spec.decision.coverage_factor

    def on(measured: Number) -> Verdict:
        verdict = judge.on(measured)
        verdict["bracket"] = [None if end is None else text(end) for end in own[:2]]
        if step.repeats > 1:
            verdict["this"] = _exact(measured)
        if len(others) + 1 < step.repeats:
            verdict["result"] = Result.NOT_EVALUATED.value
            verdict["because"] = "repeats"
            verdict["notes"] = [*notes_of(case), f"{len(others) + 1} of {step.repeats} repeats"]
            verdict["expanded_uncertainty"] = None
            return verdict
        try:
            whole = own
            for low, high in others:
                whole = narrowed(whole, Bracket(low, high, own.by))
        except ValueError:
            verdict["result"] = Result.UNDECIDED.value
            verdict["notes"] = [*verdict["notes"], CONTRADICT]
            return verdict
        verdict["result"] = judge_bracket(whole, judge.gate).value
        u = standard_uncertainty(verdict["expanded_uncertainty"], str(k))
        verdict["expanded_uncertainty"] = _bracket_uncertainty(whole, u, k)
        finer = advice(whole, judge.gate, step.unit)
        if finer is not None:
            verdict["notes"] = [*verdict["notes"], finer.sentence]
        return verdict

    return on


CONTRADICT = "the repeats contradict each other: no one size lies in all of them"


def _bracket_uncertainty(bracket: Bracket, u: float | None, k: Decimal) -> str | None:
    """U of its middle, the tool's own part ``u`` included; None where one end is not known."""
    if None in bracket[:2]:
        return None
    own = estimate(bracket).u
    return plain(expand(own if u is None else root_sum([own, u]), k))


# zero checks ---------------------------------------------------------------------------------


def _zero(case: Case, step: Step) -> Assessor:
    """Whether the zero has stayed; the deviation is what the gauge reads on its standard, judged in
    the gauge's own unit and said in the step's."""
    assert case.zero is not None
    kept, unit = case.zero, case.zero_unit

    def on(deviation: Number) -> Verdict:
        found = checked(kept, convert(deviation, step.unit, unit), unit, case.zero_expanded)
        result = {None: "not_evaluated", True: "conforming", False: "nonconforming"}
        expanded = case.zero_expanded
        return {
            "result": result[found["steady"]],
            "measured": text(deviation),
            "unit": step.unit,
            "lower": None,
            "upper": None,
            "expanded_uncertainty": None
            if expanded is None
            else brief(convert(expanded, unit, step.unit)),
            "coverage_factor": "2",
            "rule": "simple",
            "guard_band": None,
            "notes": [*notes_of(case), sentence(found, case.instrument_id)],
            "zero": found,
        }

    return on
