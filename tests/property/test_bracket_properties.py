"""What must hold of every bracket, leaf and setting."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from itertools import combinations, pairwise

from hypothesis import assume, given
from hypothesis import strategies as st

from capture import leaves as feeler
from capture.bracket import Bracket, By, advice, converted, estimate, judge, narrowed
from capture.check import Gate, Result, gate
from capture.quantity import convert
from capture.spec.model import Decision, Limits, Rule

SIZES = st.decimals(min_value=0, max_value=2, places=2)
DECIDED = (Result.CONFORMING, Result.NONCONFORMING)


@st.composite
def brackets(draw: st.DrawFn) -> Bracket:
    low, high = sorted(draw(st.lists(SIZES, min_size=2, max_size=2, unique=True)))
    sides = draw(st.sampled_from(["both", "both", "lower", "upper"]))
    by = draw(st.sampled_from(By))
    return Bracket(low if sides != "upper" else None, high if sides != "lower" else None, by)


@st.composite
def settings_of_gates(draw: st.DrawFn) -> tuple[Limits, Decision, Decimal | None]:
    low, high = sorted(draw(st.lists(SIZES, min_size=2, max_size=2)))
    sides = draw(st.sampled_from(["both", "lower", "upper"]))
    made = Limits(low if sides != "upper" else None, high if sides != "lower" else None)
    expanded = draw(st.none() | st.decimals(min_value=0, max_value=Decimal("0.2"), places=2))
    return made, Decision(draw(st.sampled_from(Rule))), expanded


GATES = settings_of_gates().map(lambda made: gate(*made))


def sizes_in(bracket: Bracket, judging: Gate) -> list[Fraction]:
    """Sizes that the bracket holds: every place where something changes, the middles between two
    of them, and some beyond the outermost."""
    bounds = (
        *bracket[:2],
        judging.acceptance_lower,
        judging.acceptance_upper,
        judging.rejection_lower,
        judging.rejection_upper,
    )
    places = sorted({Fraction(-9), Fraction(9), *(Fraction(b) for b in bounds if b is not None)})
    middles = [(one + two) / 2 for one, two in pairwise(places)]
    return [size for size in (*places, *middles) if bracket.contains(size)]


@given(brackets(), GATES)
def test_the_verdict_is_what_every_size_held_would_get_and_else_undecided(
    bracket: Bracket, judging: Gate
) -> None:
    said = {judging.judge(size) for size in sizes_in(bracket, judging)}
    assert judge(bracket, judging) is (said.pop() if len(said) == 1 else Result.UNDECIDED)


@given(brackets(), brackets(), GATES)
def test_narrowing_never_turns_a_decision(one: Bracket, two: Bracket, judging: Gate) -> None:
    two = two._replace(by=one.by)
    try:
        both = narrowed(one, two)
    except ValueError:
        assume(False)
    before = judge(one, judging)
    if before in DECIDED:
        assert judge(both, judging) is before


@given(brackets(), settings_of_gates())
def test_the_verdict_does_not_depend_on_the_unit(
    bracket: Bracket, made: tuple[Limits, Decision, Decimal | None]
) -> None:
    limits, decision, expanded = made

    def in_mm(value: Decimal | None) -> Decimal | None:
        # An inch value always ends in millimetres.
        return None if value is None else Decimal(convert(value, "in", "mm"))  # type: ignore[arg-type]

    moved = gate(Limits(in_mm(limits.lower), in_mm(limits.upper)), decision, in_mm(expanded))
    judging = gate(limits, decision, expanded)
    assert judge(converted(bracket, "in", "mm"), moved) is judge(bracket, judging)
    back = converted(converted(bracket, "mm", "in"), "in", "mm")
    assert judge(back, judging) is judge(bracket, judging)


@given(brackets(), st.decimals(min_value=0, max_value=2, places=3))
def test_the_estimate_is_within_its_half_width_of_every_size_held(
    bracket: Bracket, size: Decimal
) -> None:
    assume(bracket.lower is not None and bracket.upper is not None and bracket.contains(size))
    found = estimate(bracket)
    assert abs(Fraction(size) - Fraction(found.mid)) <= Fraction(found.half_width)


@given(brackets(), GATES)
def test_what_is_to_be_tried_lies_inside_and_settles_that_side(
    bracket: Bracket, judging: Gate
) -> None:
    found = advice(bracket, judging, "mm")
    assert (found is None) == (judge(bracket, judging) is not Result.UNDECIDED)
    if found is None or found.value is None:
        return
    assert bracket.inside(found.value)
    lower, upper = bracket._replace(lower=found.value), bracket._replace(upper=found.value)
    ends = (judging.acceptance_lower, judging.rejection_lower)
    sides = [end for end in ends if end is not None]
    kept = lower if found.value in sides else upper
    one_sided = None in (judging.acceptance_lower, judging.acceptance_upper)
    if one_sided and found.value in (judging.acceptance_lower, judging.acceptance_upper):
        assert judge(kept, judging) is Result.CONFORMING


SETS = st.lists(
    st.decimals(min_value=Decimal("0.03"), max_value=1, places=2),
    min_size=2,
    max_size=14,
    unique=True,
)


@given(SETS, st.data())
def test_a_bracket_from_leaves_holds_the_gap(leaves: list[Decimal], data: st.DataObject) -> None:
    gap = data.draw(st.decimals(min_value=Decimal("0.001"), max_value=2, places=4))
    goes = [leaf for leaf in leaves if leaf <= gap]
    stays = [leaf for leaf in leaves if leaf > gap]
    bracket = Bracket(max(goes, default=None), min(stays, default=None), By.LEAVES)
    assert bracket.contains(gap)
    while (more := feeler.next_finer(leaves, bracket)) is not None:
        thick = feeler.total(more)
        assert bracket.inside(thick)
        lower, upper = (thick, bracket.upper) if thick <= gap else (bracket.lower, thick)
        bracket = Bracket(lower, upper, By.LEAVES)
        assert bracket.contains(gap)
    assert not any(bracket.inside(feeler.total(two)) for two in combinations(leaves, 2))
    assert not any(bracket.inside(leaf) for leaf in leaves)


@given(SETS, st.data())
def test_true_neighbours_are_never_questioned_and_a_hidden_leaf_always_is(
    leaves: list[Decimal], data: st.DataObject
) -> None:
    at = data.draw(st.integers(0, len(leaves) - 1))
    around = [None, *leaves, None]
    seen = (around[at], around[at + 2])
    if data.draw(st.booleans()):
        seen = seen[::-1]
    assert feeler.check(leaves, [leaves[at]], seen) is None
    if at + 1 < len(leaves) and len(leaves) > 2:
        problem = feeler.check(leaves, [leaves[at]], (around[at], around[at + 3]))
        assert problem is not None
        assert problem.code is feeler.Code.HIDDEN_LEAF
        assert (
            feeler.check(leaves, leaves[at : at + 2], (around[at], around[at + 3]), stacked=True)
            is None
        )


@given(SETS, st.data())
def test_any_other_leaf_between_the_same_neighbours_is_questioned(
    leaves: list[Decimal], data: st.DataObject
) -> None:
    at = data.draw(st.integers(0, len(leaves) - 1))
    around = [None, *leaves, None]
    beside = (around[at], around[at + 2])
    for other in leaves:
        problem = feeler.check(leaves, [other], beside)
        # Of three leaves the outer two have the same neighbour.
        if other == leaves[at] or (len(leaves) == 3 and None in beside and other != leaves[1]):
            assert problem is None
        else:
            assert problem is not None
            known = None not in beside
            likely = {feeler.Code.WRONG_LEAF} | (set() if known else {feeler.Code.HIDDEN_LEAF})
            assert problem.code in likely


@given(
    brackets(),
    st.decimals(min_value=Decimal("0.01"), max_value=1, places=2),
    st.none() | SIZES,
    st.none() | SIZES,
)
def test_the_next_setting_is_on_the_scale_and_narrows(
    bracket: Bracket, step: Decimal, near: Decimal | None, largest: Decimal | None
) -> None:
    found = feeler.next_setting(bracket, step, near=near, largest=largest)
    marks = [step * n for n in range(1, 700)]
    able = [mark for mark in marks if bracket.inside(mark) and (largest is None or mark <= largest)]
    if found is None:
        assert able == []
    else:
        assert found in able or (not able and found > marks[-1])
        if near is not None and able:
            off = abs(Fraction(found) - Fraction(near))
            assert off == min(abs(Fraction(mark) - Fraction(near)) for mark in able)
