"""What must hold of every verdict, whatever the limits, rule and uncertainty."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from capture.check import TOO_COARSE, Gate, Result, gate
from capture.quantity import Number, convert
from capture.spec.model import Decision, Limits, Rule

SIZES = st.decimals(min_value=-1000, max_value=1000, places=4)
WIDTHS = st.decimals(min_value=0, max_value=1, places=5)
EXPANDED = st.one_of(st.none(), st.decimals(min_value=0, max_value=Decimal("0.5"), places=5))
DECISIONS = st.builds(
    Decision,
    rule=st.sampled_from(Rule),
    guard_factor=st.decimals(min_value=0, max_value=2, places=2),
    coverage_factor=st.decimals(min_value=1, max_value=4, places=2),
)
ORDER = {
    Result.CONFORMING: 0,
    Result.UNDECIDED: 1,
    Result.NONCONFORMING: 2,
}


@st.composite
def limits(draw: st.DrawFn) -> Limits:
    lower = draw(SIZES)
    upper = lower + draw(WIDTHS)
    sides = draw(st.sampled_from(["both", "lower", "upper"]))
    return Limits(lower if sides != "upper" else None, upper if sides != "lower" else None)


@st.composite
def values(draw: st.DrawFn, made: Limits) -> Decimal:
    """Values near the limits, where answers change."""
    near = draw(st.sampled_from([end for end in (made.lower, made.upper) if end is not None]))
    return near + draw(st.decimals(min_value=-1, max_value=1, places=5))


def reference(made: Limits, decision: Decision, expanded: Decimal | None, value: Number) -> Result:
    """The rules said over again, slowly and another way: by how far inside the limits a value
    lies, in fractions."""
    rooms = []
    if made.lower is not None:
        rooms.append(Fraction(value) - Fraction(made.lower))
    if made.upper is not None:
        rooms.append(Fraction(made.upper) - Fraction(value))
    if expanded is None or decision.rule is Rule.SIMPLE:
        guard = Fraction(0)
    elif decision.rule is Rule.GUARDED:
        guard = Fraction(expanded) * Fraction(decision.guard_factor)
    else:
        guard = Fraction(expanded) * 165 / (100 * Fraction(decision.coverage_factor))
    inside = min(rooms)
    if inside >= guard:
        return Result.CONFORMING
    return Result.UNDECIDED if inside >= -guard else Result.NONCONFORMING


@given(st.data(), limits(), DECISIONS, EXPANDED)
def test_the_gate_agrees_with_a_slow_reference(
    data: st.DataObject, made: Limits, decision: Decision, expanded: Decimal | None
) -> None:
    value = data.draw(values(made))
    assert gate(made, decision, expanded).judge(value) is reference(made, decision, expanded, value)


def _boundaries(judge: Gate) -> list[Number]:
    return [
        bound
        for bound in (
            judge.acceptance_lower,
            judge.acceptance_upper,
            judge.rejection_lower,
            judge.rejection_upper,
        )
        if bound is not None
    ]


@given(limits(), DECISIONS, EXPANDED)
def test_the_gate_agrees_with_the_reference_on_and_beside_every_boundary(
    made: Limits, decision: Decision, expanded: Decimal | None
) -> None:
    judge = gate(made, decision, expanded)
    for bound in _boundaries(judge):
        for nudge in (0, Fraction(1, 10**30), Fraction(-1, 10**30)):
            value = Fraction(bound) + nudge
            assert judge.judge(value) is reference(made, decision, expanded, value)


@given(limits(), DECISIONS, EXPANDED)
def test_a_tie_counts_as_inside(made: Limits, decision: Decision, expanded: Decimal | None) -> None:
    judge = gate(made, decision, expanded)
    for bound in (judge.acceptance_lower, judge.acceptance_upper):
        if bound is not None and TOO_COARSE not in judge.notes:
            assert judge.judge(bound) is Result.CONFORMING
    for bound in (judge.rejection_lower, judge.rejection_upper):
        if bound is not None:
            assert judge.judge(bound) is not Result.NONCONFORMING


@given(st.data(), limits(), DECISIONS, EXPANDED)
def test_a_verdict_does_not_change_under_a_change_of_unit(
    data: st.DataObject, made: Limits, decision: Decision, expanded: Decimal | None
) -> None:
    """Inches to millimetres, where every limit ends as a decimal; and the value carried there
    and back."""
    value = data.draw(values(made))
    in_mm = Limits(*(_mm(end) for end in (made.lower, made.upper)))
    judge = gate(in_mm, decision, _mm(expanded))
    answer = gate(made, decision, expanded).judge(value)
    assert judge.judge(convert(value, "in", "mm")) is answer
    assert judge.judge(convert(convert(value, "in", "µm"), "µm", "mm")) is answer


@given(st.data(), limits(), DECISIONS, EXPANDED)
def test_a_value_measured_in_another_unit_gets_the_verdict_of_its_size(
    data: st.DataObject, made: Limits, decision: Decision, expanded: Decimal | None
) -> None:
    """Limits in inches, the gauge in millimetres: its value does not end as inches."""
    value = data.draw(values(made))
    sent = convert(value, "in", "mm")
    judge = gate(made, decision, expanded)
    assert judge.judge(convert(sent, "mm", "in")) is judge.judge(value)
    beside = convert(Fraction(sent) + Fraction(1, 10_000), "mm", "in")
    assert judge.judge(beside) is reference(made, decision, expanded, beside)


def _mm(value: Decimal | None) -> Decimal | None:
    if value is None:
        return None
    converted = convert(value, "in", "mm")
    assert isinstance(converted, Decimal)
    return converted


@given(st.data(), limits(), DECISIONS, EXPANDED)
def test_further_inside_is_never_worse(
    data: st.DataObject, made: Limits, decision: Decision, expanded: Decimal | None
) -> None:
    value = data.draw(values(made))
    step = data.draw(st.decimals(min_value=0, max_value=1, places=5))
    judge = gate(made, decision, expanded)
    if made.upper is None:
        inward = value + step
    elif made.lower is None:
        inward = value - step
    else:
        middle = (Fraction(made.lower) + Fraction(made.upper)) / 2
        reach = min(Fraction(step), abs(middle - Fraction(value)))
        further = Fraction(value) + (reach if Fraction(value) < middle else -reach)
        assert ORDER[judge.judge(further)] <= ORDER[judge.judge(value)]
        return
    assert ORDER[judge.judge(inward)] <= ORDER[judge.judge(value)]


@given(st.data(), limits(), st.sampled_from([Rule.GUARDED, Rule.ISO14253]))
def test_more_uncertainty_only_moves_answers_towards_undecided(
    data: st.DataObject, made: Limits, rule: Rule
) -> None:
    value = data.draw(values(made))
    small = data.draw(WIDTHS)
    large = small + data.draw(WIDTHS)
    decision = Decision(rule)
    surer = gate(made, decision, small).judge(value)
    less_sure = gate(made, decision, large).judge(value)
    assert less_sure in (surer, Result.UNDECIDED)


@given(st.data(), limits(), DECISIONS, EXPANDED)
def test_a_guarded_answer_never_contradicts_the_plain_one(
    data: st.DataObject, made: Limits, decision: Decision, expanded: Decimal | None
) -> None:
    value = data.draw(values(made))
    plain = gate(made, Decision(Rule.SIMPLE), None).judge(value)
    assert gate(made, decision, expanded).judge(value) in (plain, Result.UNDECIDED)
