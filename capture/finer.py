"""A bracket that leaves the verdict open: which finer leaf or setting would settle it."""

from __future__ import annotations

from decimal import Decimal

from capture.assess import bracket_of, judge_of
from capture.bracket import Bracket, advice
from capture.build import Build
from capture.case import Case
from capture.evaluate import Evaluator
from capture.extension import setting_for
from capture.leaves import next_finer, next_setting
from capture.quantity import Number, convert, text
from capture.rules.objection import Objection
from capture.step import Step


def finer_step(evaluator: Evaluator, case: Case, build: Build, step: Step) -> Objection | None:
    """The objection that asks for it; None where the bracket decides, or this instrument has
    nothing finer to try."""
    assert case.instrument is not None
    if case.bracket is None or step.repeats > 1:
        return None
    bracket = bracket_of(case, step)
    found = advice(bracket, judge_of(evaluator, case, build, step).gate, step.unit)
    if found is None or found.value is None:
        return None
    words = _to_try(case, step, found.value)
    if words is None:
        return None
    low, high = ("nothing" if end is None else text(end) for end in bracket[:2])
    return {
        "code": "finer-step-wanted",
        "detail": f"Between {low} and {high} {step.unit} it may be within its limits or not: try "
        f"{words}, and enter both ends again.",
        "step": step.id,
        "lower": low,
        "upper": high,
        "try": words,
    }


def _to_try(case: Case, step: Step, near: Number) -> str | None:
    """The leaf, leaves or setting nearest to where the verdict changes, as the builder reads it."""
    assert case.instrument is not None
    assert case.bracket is not None
    unit = case.instrument.unit
    ends = [case.bracket["lower"], case.bracket["upper"]]
    low, high = (None if end is None else convert(Decimal(end), case.unit, unit) for end in ends)
    wanted = convert(near, step.unit, unit)
    between = Bracket(low, high, bracket_of(case, step).by)
    if case.instrument.leaves:
        leaves = next_finer(case.instrument.leaves, between, near=wanted)
        if leaves is None:
            return None
        return f"{' and '.join(map(str, leaves))} {unit}" + (" stacked" if len(leaves) > 1 else "")
    if case.extension is not None:
        wanted = setting_for(wanted, case.extension)
    largest = None if case.instrument.range is None else case.instrument.range[1]
    setting = next_setting(between, case.instrument.resolution, near=wanted, largest=largest)
    return None if setting is None else f"a setting of {text(setting)} {unit}"
