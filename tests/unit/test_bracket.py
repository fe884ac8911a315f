"""Brackets, feeler leaves and settings: what a builder is told."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from capture import leaves as feeler
from capture.bracket import Bracket, By, Estimate, advice, checked, estimate, judge, narrowed
from capture.check import Result, gate
from capture.leaves import Code, Problem, check, next_finer, next_setting, unlike_sisters
from capture.spec.model import Decision, Limits, Rule

SET = [Decimal(n).scaleb(-2) for n in (5, 10, 15, 20, 25, 30, 35, 40, 50, 60)]
GAP = Limits(Decimal("0.20"), Decimal("0.30"))
SIMPLE = gate(GAP, Decision(Rule.SIMPLE), None)
GUARDED = gate(GAP, Decision(Rule.GUARDED), Decimal("0.01"))


def leaf(lower: str | None, upper: str | None, by: By = By.LEAVES) -> Bracket:
    low, high = (None if word is None else Decimal(word) for word in (lower, upper))
    return Bracket(low, high, by)


@pytest.mark.parametrize(
    ("bracket", "simple", "guarded"),
    [
        (leaf("0.20", "0.25"), Result.CONFORMING, Result.UNDECIDED),
        (leaf("0.21", "0.29"), Result.CONFORMING, Result.CONFORMING),
        (leaf("0.25", "0.30"), Result.CONFORMING, Result.UNDECIDED),
        (leaf("0.25", "0.35"), Result.UNDECIDED, Result.UNDECIDED),
        (leaf("0.15", "0.20"), Result.NONCONFORMING, Result.UNDECIDED),
        (leaf("0.15", "0.19"), Result.NONCONFORMING, Result.NONCONFORMING),
        (leaf("0.35", "0.40"), Result.NONCONFORMING, Result.NONCONFORMING),
        (leaf("0.35", None), Result.NONCONFORMING, Result.NONCONFORMING),
        (leaf(None, "0.05"), Result.NONCONFORMING, Result.NONCONFORMING),
        (leaf(None, "0.25"), Result.UNDECIDED, Result.UNDECIDED),
        (leaf("0.10", "0.40"), Result.UNDECIDED, Result.UNDECIDED),
        (leaf(None, None), Result.UNDECIDED, Result.UNDECIDED),
    ],
)
def test_where_the_whole_interval_lies(bracket: Bracket, simple: Result, guarded: Result) -> None:
    assert judge(bracket, SIMPLE) is simple
    assert judge(bracket, GUARDED) is guarded


def test_without_limits_nothing_is_judged() -> None:
    none = gate(Limits(None, None), Decision(), None)
    assert judge(leaf("0.20", "0.25"), none) is Result.NOT_EVALUATED
    assert advice(leaf("0.20", "0.25"), none, "mm") is None


@pytest.mark.parametrize(
    ("by", "low_end", "high_end"),
    [
        # A leaf of the least gap that does not go shows a smaller gap; a tool that clicks at the
        # greatest torque with nothing turned shows a greater torque. The other ends are possible.
        (By.LEAVES, Result.NONCONFORMING, Result.UNDECIDED),
        (By.SETTINGS, Result.UNDECIDED, Result.NONCONFORMING),
        (By.EITHER, Result.UNDECIDED, Result.UNDECIDED),
    ],
)
def test_an_end_on_a_limit(by: By, low_end: Result, high_end: Result) -> None:
    assert judge(leaf("0.15", "0.20", by), SIMPLE) is low_end
    assert judge(leaf("0.30", "0.35", by), SIMPLE) is high_end


@pytest.mark.parametrize(
    ("bracket", "sentence"),
    [
        (leaf("0.30", "0.25"), "A leaf of 0.30 goes and one of 0.25 does not"),
        (leaf("0.25", "0.25"), "Try both leaves again"),
        (leaf("14", "12", By.SETTINGS), "clicked at 14 before anything turned"),
        (leaf("2", "1", By.EITHER), "lower end 2 is not below the upper end 1"),
    ],
)
def test_crossed_ends_are_refused(bracket: Bracket, sentence: str) -> None:
    for use in (
        checked,
        estimate,
        lambda one: judge(one, SIMPLE),
        lambda one: next_finer(SET, one),
    ):
        with pytest.raises(ValueError, match=sentence):
            use(bracket)


def test_a_single_value_is_a_bracket_of_no_width() -> None:
    found = estimate(leaf("0.25", "0.25", By.EITHER))
    assert found == Estimate(Decimal("0.25"), Decimal(0), 0.0)
    assert judge(leaf("0.30", "0.30", By.EITHER), SIMPLE) is Result.CONFORMING


def test_one_end_is_no_estimate() -> None:
    with pytest.raises(ValueError, match=r"Only one end, 0\.25, of this bracket is known"):
        estimate(leaf("0.25", None))
    with pytest.raises(ValueError, match="Neither end"):
        estimate(leaf(None, None))


def test_two_brackets_of_one_gap() -> None:
    both = narrowed(leaf("0.20", "0.30"), leaf(None, "0.25"))
    assert both == leaf("0.20", "0.25")
    with pytest.raises(ValueError, match=r"A leaf of 0\.20 goes and one of 0\.15 does not"):
        narrowed(leaf("0.20", "0.30"), leaf("0.10", "0.15"))


def test_the_limit_is_what_is_tried() -> None:
    found = advice(leaf("0.25", "0.35"), SIMPLE, "mm")
    assert found is not None
    assert found.value == Decimal("0.30")
    assert found.sentence == (
        "It is between 0.25 mm and 0.35 mm, and the upper limit lies between: try a leaf of "
        "0.30 mm or as near as can be. Where it does not go, that limit is kept; where it goes, "
        "it is not."
    )


def test_with_a_guard_band_its_boundary_is_tried() -> None:
    low = advice(leaf(None, "0.25"), GUARDED, "mm")
    assert low is not None
    assert low.value == Decimal("0.21")
    assert "Where it goes, that limit is kept" in low.sentence
    past = advice(leaf("0.30", "0.35"), GUARDED, "mm")
    assert past is not None
    assert past.value == Decimal("0.31")
    assert "Where it goes, it is outside that limit" in past.sentence
    under = advice(leaf("0.18", "0.20"), GUARDED, "mm")
    assert under is not None
    assert under.value == Decimal("0.19")
    assert "Where it does not go, it is outside that limit" in under.sentence


def test_where_no_finer_step_helps_it_says_so() -> None:
    inside = advice(leaf("0.29", "0.31"), GUARDED, "mm")
    assert inside is not None
    assert inside.value is None
    assert "within the guard band" in inside.sentence
    touching = advice(leaf("0.30", "0.35"), SIMPLE, "mm")
    assert touching is not None
    assert touching.value is None
    assert "0.30 is the limit itself" in touching.sentence


def test_a_tool_too_coarse_for_the_tolerance_can_only_reject() -> None:
    coarse = gate(GAP, Decision(Rule.GUARDED), Decimal("0.08"))
    found = advice(leaf("0.05", "0.40"), coarse, "mm")
    assert found is not None
    assert found.value in (Decimal("0.12"), Decimal("0.38"))
    assert "stays undecided" in found.sentence


def test_a_turning_torque_speaks_of_settings() -> None:
    torque = gate(Limits(None, Decimal(13)), Decision(Rule.SIMPLE), None)
    found = advice(leaf("12", "14", By.SETTINGS), torque, "N·m")
    assert found is not None
    assert "try a setting of 13 N·m" in found.sentence
    assert "Where it turns, that limit is kept" in found.sentence


def problem(
    entered: str, beside: tuple[str | None, str | None] | None, *, stacked: bool = False
) -> Problem | None:
    seen = None
    if beside is not None:
        left, right = (None if word is None else Decimal(word) for word in beside)
        seen = (left, right)
    return check(SET, [Decimal(word) for word in entered.split()], seen, stacked=stacked)


@pytest.mark.parametrize(
    ("entered", "beside"),
    [
        ("0.25", ("0.20", "0.30")),
        ("0.25", ("0.30", "0.20")),
        ("0.05", (None, "0.10")),
        ("0.60", ("0.50", None)),
        ("0.250", ("0.2", "0.3")),
    ],
)
def test_a_leaf_between_its_neighbours(entered: str, beside: tuple[str | None, str | None]) -> None:
    assert problem(entered, beside) is None


@pytest.mark.parametrize(
    ("entered", "beside", "code", "words"),
    [
        ("0.25", None, Code.NEIGHBOURS_NOT_SAID, "Enter both neighbours"),
        ("0.25", (None, None), Code.NEIGHBOURS_NOT_SAID, "Enter both neighbours"),
        ("0.27", None, Code.NOT_IN_SET, "No leaf of this set is 0.27; nearest are 0.25 and 0.30"),
        ("0.01", None, Code.NOT_IN_SET, "nearest is 0.05"),
        ("0.55", None, Code.NOT_IN_SET, "0.05 and 0.50 together make it. If they were stacked"),
        ("0.25", ("0.20", "0.31"), Code.NEIGHBOUR_NOT_IN_SET, "neighbour 0.31 is no leaf"),
        ("0.25", ("0.20", "0.35"), Code.HIDDEN_LEAF, "one leaf is hidden behind another"),
        ("0.30", ("0.20", "0.35"), Code.HIDDEN_LEAF, "together they make 0.55"),
        ("0.30", ("0.20", "0.40"), Code.HIDDEN_LEAF, "2 leaves are hidden behind another"),
        ("0.10", (None, "0.15"), Code.HIDDEN_LEAF, "Between 0.15 and an end of the fan stand"),
        ("0.25", ("0.30", "0.40"), Code.WRONG_LEAF, "stands 0.35, not 0.25"),
        ("0.10", ("0.20", "0.35"), Code.WRONG_LEAF, "0.25 and 0.30 (together 0.55), not 0.10"),
        ("0.25", ("0.20", "0.25"), Code.NO_LEAF_BETWEEN, "stands no leaf"),
        ("0.25 0.30", ("0.20", "0.35"), Code.STACK_NOT_SAID, "say that they were stacked"),
    ],
)
def test_a_leaf_that_cannot_be(
    entered: str, beside: tuple[str | None, str | None] | None, code: Code, words: str
) -> None:
    found = problem(entered, beside)
    assert found is not None
    assert found.code is code
    assert words in found.text


def test_stacks() -> None:
    assert problem("0.25 0.30", ("0.20", "0.35"), stacked=True) is None
    assert problem("0.30 0.10", ("0.05", "0.35"), stacked=True) is None
    for entered, beside, code in (
        ("0.25 0.25", ("0.20", "0.30"), Code.TWICE),
        ("0.25", ("0.20", "0.30"), Code.STACK_OF_ONE),
        ("0.55", ("0.20", "0.35"), Code.NOT_IN_SET),
        ("0.25 0.30", ("0.20", "0.40"), Code.HIDDEN_LEAF),
        ("0.25 0.30", ("0.30", "0.40"), Code.WRONG_LEAF),
    ):
        found = problem(entered, beside, stacked=True)
        assert found is not None
        assert found.code is code
    assert feeler.total([Decimal("0.25"), Decimal("0.30")]) == Decimal("0.55")


def test_a_fan_in_any_order_and_with_equal_leaves() -> None:
    fan = [Decimal(word) for word in ["0.30", "0.05", "0.10", "0.05", "0.20"]]
    for beside in ((Decimal("0.30"), Decimal("0.10")), (Decimal("0.20"), Decimal("0.10"))):
        assert check(fan, [Decimal("0.05")], beside) is None
    both = (Decimal("0.30"), Decimal("0.20"))
    stack = [Decimal("0.05"), Decimal("0.05"), Decimal("0.10")]
    assert check(fan, stack, both, stacked=True) is None


def test_sets_and_entries_that_make_no_sense() -> None:
    with pytest.raises(ValueError, match="no leaves"):
        check([], [Decimal(1)], None)
    with pytest.raises(ValueError, match="thicker than 0"):
        check([Decimal(0)], [Decimal(1)], None)
    with pytest.raises(ValueError, match="No leaf was entered"):
        check(SET, [], None)
    with pytest.raises(ValueError, match="above 0"):
        next_setting(leaf("1", "2"), Decimal(0))
    with pytest.raises(ValueError, match="at least 1 sister"):
        unlike_sisters(leaf("0.20", "0.25"), [], SET, enough=0)


def test_the_next_finer_leaf_or_pair() -> None:
    assert next_finer(SET, leaf("0.20", "0.40")) == (Decimal("0.30"),)
    assert next_finer(SET, leaf("0.20", "0.40"), near=Fraction("0.26")) == (Decimal("0.25"),)
    assert next_finer(SET, leaf("0.40", "0.50")) == (Decimal("0.05"), Decimal("0.40"))
    assert next_finer(SET, leaf("0.25", "0.30")) is None
    assert next_finer(SET, leaf("0.25", None)) == (Decimal("0.30"),)
    assert next_finer(SET, leaf(None, "0.25")) == (Decimal("0.20"),)


def test_the_next_setting() -> None:
    step = Decimal("0.5")
    assert next_setting(leaf("12", "14", By.SETTINGS), step) == 13
    assert next_setting(leaf("12", "14", By.SETTINGS), step, near=Decimal("12.6")) == Decimal(
        "12.5"
    )
    assert next_setting(leaf("35", None, By.SETTINGS), Decimal(5)) == 40
    assert next_setting(leaf("37", None, By.SETTINGS), Decimal(5)) == 40
    assert next_setting(leaf("40", None, By.SETTINGS), Decimal(5), largest=Decimal(40)) is None
    assert next_setting(leaf("12", "12.5", By.SETTINGS), step) is None
    assert next_setting(leaf(None, "20", By.SETTINGS), Decimal(5)) == 10
    assert next_setting(leaf(None, None), Decimal(5)) == 5


def test_a_gap_unlike_its_sisters() -> None:
    usual = [leaf("0.35", "0.40")] * 3
    assert unlike_sisters(leaf("0.35", "0.40"), usual, SET) is None
    found = unlike_sisters(leaf("0.30", "0.35"), usual, SET)
    assert found is not None
    assert found.code is Code.UNLIKE_SISTERS
    assert found.text.startswith("This gap is one leaf step below all of its sisters")
    assert "behind" not in found.text
    above = unlike_sisters(leaf("0.50", "0.60"), usual, SET)
    assert above is not None
    assert "2 leaf steps above" in above.text


def test_a_leaf_hidden_behind_the_one_read_explains_the_difference() -> None:
    found = unlike_sisters(leaf("0.15", "0.20"), [leaf("0.35", "0.40")] * 2, SET)
    assert found is not None
    assert "0.15 and 0.20 lie together in the fan and make their 0.35" in found.text


def test_sisters_that_differ_or_are_few_tell_nothing() -> None:
    gap = leaf("0.20", "0.25")
    assert unlike_sisters(gap, [leaf("0.35", "0.40"), leaf("0.30", "0.35")], SET) is None
    assert unlike_sisters(gap, [leaf("0.35", "0.40")], SET) is None
    assert unlike_sisters(gap, [leaf("0.35", "0.40")], SET, enough=1) is not None
    assert unlike_sisters(gap, [leaf(None, None)] * 3, SET) is None


def test_a_gap_off_the_set() -> None:
    found = unlike_sisters(leaf("0.22", "0.25"), [], SET)
    assert found is not None
    assert found.code is Code.OFF_THE_SET
    assert "nearest are 0.20 and 0.25" in found.text
    assert unlike_sisters(leaf("0.45", "0.50"), [], SET) is None  # 0.05 and 0.40 stacked


def test_steps_apart() -> None:
    assert feeler.steps_apart(leaf("0.35", "0.40"), leaf("0.25", "0.30"), SET) == 2
    assert feeler.steps_apart(leaf(None, "0.05"), leaf("0.10", None), SET) == -2
    assert feeler.steps_apart(leaf(None, None), leaf("0.10", None), SET) is None
