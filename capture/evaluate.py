"""From a measured size to a verdict: uncertainty, gate and the words for both.

What a verdict rests on changes rarely (the instrument's record, its setting, the step's limits)
while sizes come by the thousand, so budgets and gates are kept by what they depend on.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any, NamedTuple

from capture.check import Gate, gate
from capture.instrument import Instrument
from capture.quantity import Number, dimension, plain, text
from capture.spec.model import Decision, Limits
from capture.uncertainty import Budget, Setting, expand, single

Verdict = dict[str, Any]
"""``{"result", "measured", "unit", "lower", "upper", "expanded_uncertainty", "coverage_factor",
"rule", "guard_band", "notes"}``: decimal text, a list of notes; ``Any`` for the mixture."""


class Taken(NamedTuple):
    """How a size was taken: everything its uncertainty depends on."""

    record: int
    """Seq of the instrument's record: two records are never alike."""
    setting_seq: int
    """Seq of its setting; 0 where it has none."""
    resolution: Decimal
    """Of the digits as sent."""
    sent_unit: str
    unit: str
    """The unit the budget is wanted in."""


class Judge(NamedTuple):
    """A gate and the part of the verdict that is the same for every size judged by it."""

    gate: Gate
    verdict: Verdict
    kept: tuple[Limits, Decision]
    """What the key's identities are of, kept alive so that they stay theirs."""

    def on(self, measured: Number) -> Verdict:
        """The verdict on a size."""
        verdict = self.verdict.copy()
        verdict["result"] = self.gate.judge(measured)._value_
        if type(measured) is Decimal:
            verdict["measured"] = format(measured, "f")
        else:
            exact = Fraction(measured)
            verdict["measured"] = text(measured)
            verdict["measured_exact"] = f"{exact.numerator}/{exact.denominator}"
        return verdict


KEPT_MOST = 4096
"""Judges, budgets and uncertainties kept: beyond it they are made anew."""


class Evaluator:
    """Keeps budgets and gates; pure otherwise: the same arguments give the same verdict."""

    def __init__(self) -> None:
        self._budgets: dict[Taken, Budget | None] = {}
        self._zeros: dict[tuple[int, Decimal, str], Budget] = {}
        self._expanded: dict[tuple[Taken, Decimal], Decimal | None] = {}
        self._judges: dict[tuple[int, int, str, Decimal | None, tuple[str, ...]], Judge] = {}

    def budget(
        self, taken: Taken, instrument: Instrument, setting: Setting | None
    ) -> Budget | None:
        """The budget of a single reading; None where no uncertainty is established."""
        try:
            return self._budgets[taken]
        except KeyError:
            found = None
            if dimension(taken.unit) == dimension(instrument.unit):
                # Else an angle by a torque tool, say: its certificate tells nothing of that.
                found = single(
                    instrument, taken.resolution, taken.unit, setting, sent_unit=taken.sent_unit
                )
            if len(self._budgets) >= KEPT_MOST:
                self._budgets.clear()
            return self._budgets.setdefault(taken, found)

    def zero_budget(
        self, record: int, instrument: Instrument, sent: Decimal, sent_unit: str
    ) -> Budget:
        """The budget of what a comparative gauge reads on its standard, in its own unit: without
        the standard, which every check shares. The instrument has a calibration."""
        key = (record, sent, sent_unit)
        found = self._zeros.get(key)
        if found is None:
            plain_gauge = replace(instrument, comparative=False)
            made = single(plain_gauge, sent, instrument.unit, None, sent_unit=sent_unit)
            assert made is not None
            if len(self._zeros) >= KEPT_MOST:
                self._zeros.clear()
            found = self._zeros[key] = made
        return found

    def expanded(
        self, taken: Taken, instrument: Instrument, setting: Setting | None, coverage: Decimal
    ) -> Decimal | None:
        """Expanded uncertainty of a single reading, rounded up to two digits."""
        key = (taken, coverage)
        try:
            return self._expanded[key]
        except KeyError:
            if len(self._expanded) >= KEPT_MOST:
                self._expanded.clear()
            budget = self.budget(taken, instrument, setting)
            found = None if budget is None else expand(budget.standard_uncertainty, coverage)
            return self._expanded.setdefault(key, found)

    def judge(
        self,
        unit: str,
        limits: Limits,
        decision: Decision,
        expanded: Decimal | None,
        notes: tuple[str, ...] = (),
    ) -> Judge:
        """What gives the verdict on a size against its limits, with everything it was made with."""
        key = (id(limits), id(decision), unit, expanded, notes)
        found = self._judges.get(key)
        if found is None:
            if len(self._judges) >= KEPT_MOST:  # notes hold digits where a tool has an extension
                self._judges.clear()
            made = gate(limits, decision, expanded)
            unchanging = _unchanging(made, limits, unit, decision, expanded, notes)
            found = self._judges[key] = Judge(made, unchanging, (limits, decision))
        return found


def _unchanging(
    made: Gate,
    limits: Limits,
    unit: str,
    decision: Decision,
    expanded: Decimal | None,
    notes: tuple[str, ...],
) -> Verdict:
    return {
        "result": "",
        "measured": "",
        "unit": unit,
        "lower": plain(limits.lower),
        "upper": plain(limits.upper),
        "expanded_uncertainty": plain(expanded),
        "coverage_factor": plain(decision.coverage_factor),
        "rule": made.rule.value,
        "guard_band": None if made.guard_band is None else text(made.guard_band),
        "notes": [*made.notes, *notes],
    }


def measured_of(verdict: Verdict) -> Number:
    """The exact size a verdict was made on."""
    exact = verdict.get("measured_exact")
    if exact is None:
        return Decimal(verdict["measured"])
    numerator, _, denominator = exact.partition("/")
    return Fraction(int(numerator), int(denominator))


def own_size(verdict: Verdict) -> Number:
    """The press's own size: of several repeats the verdict is on their mean."""
    this = verdict.get("this")
    if this is None:
        return measured_of(verdict)
    return measured_of({"measured": this, "measured_exact": this if "/" in this else None})


def bracket_in(bracket: list[str | None]) -> tuple[Number | None, Number | None]:
    """The ends of a bracket as its verdict has them."""
    low, high = (None if end is None else Decimal(end) for end in bracket)
    return low, high


def standard_uncertainty(expanded: str | None, coverage: str | None) -> float | None:
    """u = U/k from the text in a verdict."""
    return None if expanded is None or coverage is None else float(expanded) / float(coverage)
