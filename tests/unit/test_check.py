"""Gates: limits, rule and uncertainty made into answers."""

from __future__ import annotations

from dataclasses import FrozenInstanceError
from decimal import Decimal
from fractions import Fraction

import pytest

from capture.check import NO_LIMITS, NOT_ESTABLISHED, TOO_COARSE, Result, gate
from capture.spec.model import Decision, Limits, Rule

BORE = Limits(Decimal("87.200"), Decimal("87.250"))
GUARDED = Decision(Rule.GUARDED)


def answers(rule: Decision, expanded: str | None, values: str) -> list[str]:
    made = gate(BORE, rule, None if expanded is None else Decimal(expanded))
    return [made.judge(Decimal(value)).value for value in values.split()]


def test_simple_takes_limits_as_they_stand_with_ties_inside() -> None:
    values = "87.199 87.1999999 87.200 87.225 87.250 87.2500001 87.251"
    assert answers(Decision(Rule.SIMPLE), "0.004", values) == [
        *["nonconforming"] * 2,
        *["conforming"] * 3,
        *["nonconforming"] * 2,
    ]


def test_guarded_has_three_zones_and_every_tie_goes_to_the_inner_one() -> None:
    values = "87.1959 87.196 87.200 87.2039 87.204 87.246 87.2461 87.250 87.254 87.2541"
    assert answers(GUARDED, "0.004", values) == [
        "nonconforming",
        *["undecided"] * 3,
        *["conforming"] * 2,
        *["undecided"] * 3,
        "nonconforming",
    ]


def test_guard_factor_scales_the_band() -> None:
    made = gate(BORE, Decision(Rule.GUARDED, guard_factor=Decimal("0.5")), Decimal("0.004"))
    assert made.guard_band == Decimal("0.002")
    assert (made.acceptance_lower, made.acceptance_upper) == (
        Decimal("87.202"),
        Decimal("87.248"),
    )
    assert (made.rejection_lower, made.rejection_upper) == (Decimal("87.198"), Decimal("87.252"))


def test_iso14253_guards_by_its_factor_of_the_standard_uncertainty() -> None:
    made = gate(BORE, Decision(Rule.ISO14253, coverage_factor=Decimal(2)), Decimal("0.004"))
    assert made.guard_band == Decimal("0.0033")
    assert made.judge(Decimal("87.2467")) is Result.CONFORMING
    assert made.judge(Decimal("87.2468")) is Result.UNDECIDED
    assert made.judge(Decimal("87.2533")) is Result.UNDECIDED
    assert made.judge(Decimal("87.2534")) is Result.NONCONFORMING


def test_a_guard_band_that_does_not_end_is_not_rounded() -> None:
    rule = Decision(Rule.ISO14253, coverage_factor=Decimal(7))
    made = gate(Limits(None, Decimal(1)), rule, Decimal("0.1"))
    band = Fraction("1.65") * Fraction(1, 70)
    assert made.guard_band == band
    assert made.judge(1 - band) is Result.CONFORMING
    assert made.judge(1 - band + Fraction(1, 10**40)) is Result.UNDECIDED
    assert made.judge(1 + band) is Result.UNDECIDED
    assert made.judge(1 + band + Fraction(1, 10**40)) is Result.NONCONFORMING
    assert made.judge(Decimal("0.97")) is Result.CONFORMING


def test_without_uncertainty_the_rule_is_simple_and_says_why() -> None:
    made = gate(BORE, GUARDED, None)
    assert made.rule == "simple"
    assert made.guard_band is None
    assert made.notes == (NOT_ESTABLISHED,) == ("uncertainty not established",)
    assert made.judge(Decimal("87.250")) is Result.CONFORMING
    assert made.judge(Decimal("87.251")) is Result.NONCONFORMING


def test_the_rule_applied_is_told_with_its_band() -> None:
    made = gate(BORE, GUARDED, Decimal("0.004"))
    assert (made.rule, made.guard_band, made.notes) == ("guarded", Decimal("0.004"), ())
    plain = gate(BORE, Decision(Rule.SIMPLE), Decimal("0.004"))
    assert (plain.rule, plain.guard_band, plain.notes) == ("simple", None, ())


@pytest.mark.parametrize("limits", [Limits(Decimal("0.010"), None), Limits(None, Decimal("0.010"))])
def test_one_sided_limits(limits: Limits) -> None:
    made = gate(limits, GUARDED, Decimal("0.002"))
    inward = 1 if limits.upper is None else -1
    tie = Decimal("0.010")
    assert made.judge(tie + inward * Decimal("0.002")) is Result.CONFORMING
    assert made.judge(tie + inward * Decimal("1000000")) is Result.CONFORMING
    assert made.judge(tie) is Result.UNDECIDED
    assert made.judge(tie - inward * Decimal("0.002")) is Result.UNDECIDED
    assert made.judge(tie - inward * Decimal("0.003")) is Result.NONCONFORMING
    open_side = made.acceptance_upper if limits.upper is None else made.acceptance_lower
    assert open_side is None


def test_no_limits_is_not_evaluated() -> None:
    made = gate(Limits(None, None), GUARDED, Decimal("0.002"))
    assert made.judge(Decimal("1.5")) is Result.NOT_EVALUATED
    assert made.notes == (NO_LIMITS,)


def test_an_instrument_too_coarse_can_reject_but_never_accept() -> None:
    made = gate(BORE, GUARDED, Decimal("0.0251"))
    assert made.notes == (TOO_COARSE,) == ("instrument too coarse for this tolerance",)
    assert made.judge(Decimal("87.225")) is Result.UNDECIDED
    assert made.judge(Decimal("87.1")) is Result.NONCONFORMING
    edge = gate(BORE, GUARDED, Decimal("0.025"))
    assert edge.notes == ()
    assert edge.judge(Decimal("87.225")) is Result.CONFORMING


def test_no_uncertainty_at_all_leaves_nothing_undecided() -> None:
    made = gate(BORE, GUARDED, Decimal(0))
    assert made.judge(Decimal("87.250")) is Result.CONFORMING
    assert made.judge(Decimal("87.2501")) is Result.NONCONFORMING
    assert made.guard_band == 0


def test_fractions_are_judged_as_they_stand() -> None:
    made = gate(Limits(Decimal("0.333"), Decimal("0.334")), Decision(Rule.SIMPLE), None)
    assert made.judge(Fraction(1, 3)) is Result.CONFORMING
    assert made.judge(Fraction(333, 1000)) is Result.CONFORMING
    assert made.judge(Fraction(333, 1000) - Fraction(1, 10**30)) is Result.NONCONFORMING


def test_results_are_the_words_stored() -> None:
    assert [result.value for result in Result] == [
        "conforming",
        "nonconforming",
        "undecided",
        "not_evaluated",
    ]


@pytest.mark.parametrize(
    ("limits", "decision", "expanded", "said"),
    [
        (Limits(Decimal(2), Decimal(1)), GUARDED, Decimal(0), "lower limit 2"),
        (BORE, GUARDED, Decimal("-0.001"), "expanded uncertainty"),
        (BORE, Decision(Rule.GUARDED, guard_factor=Decimal(-1)), Decimal(1), "guard factor"),
        (BORE, Decision(Rule.ISO14253, coverage_factor=Decimal(0)), Decimal(1), "coverage"),
    ],
)
def test_what_makes_no_sense_is_an_error(
    limits: Limits, decision: Decision, expanded: Decimal, said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        gate(limits, decision, expanded)


def test_a_gate_cannot_be_changed() -> None:
    made = gate(BORE, GUARDED, None)
    with pytest.raises(FrozenInstanceError):
        made.acceptance_upper = Decimal(100)  # type: ignore[misc]  # what the test is about
