"""Properties of formulas, against Python's own arithmetic and the ``uncertainties`` library.

A formula is drawn as a tree and written out twice: in our grammar, and as a Python expression.
Python evaluates the second with ``Fraction`` (values must agree exactly) and with numbers of the
``uncertainties`` package (github.com/lmfit/uncertainties), which has derivatives of its own.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any, NamedTuple

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from uncertainties import ufloat

from capture.formula.dimension import base, check, measures
from capture.formula.evaluate import Term, evaluate
from capture.formula.parse import parse
from capture.formula.problem import FormulaError
from capture.formula.tree import Name

NAMES = ("bore", "main-journal", "c_3")
DRAWN = settings(max_examples=200, deadline=None)


class Written(NamedTuple):
    """One formula in our grammar and in Python's."""

    ours: str
    pythons: str


def variable(name: str) -> str:
    return name.replace("-", "_")


def mean(*values: Any) -> Any:
    return sum(values) / len(values)


def nominal(value: Any) -> Any:
    """Numbers with an uncertainty are compared by their value."""
    return getattr(value, "nominal_value", value)


def least(*values: Any) -> Any:
    return min(values, key=nominal)


def most(*values: Any) -> Any:
    return max(values, key=nominal)


def spread(*values: Any) -> Any:
    return most(*values) - least(*values)


def absolute(value: Any) -> Any:
    return value if nominal(value) >= 0 else -value


FUNCTIONS = {"mean": mean, "min": least, "max": most, "range": spread, "abs": absolute}
NAMED = st.sampled_from(NAMES).map(lambda name: Written(name, variable(name)))
DECIMALS = st.decimals("0.001", 9, places=3).map(lambda one: Written(f"{one:f}", f"F('{one:f}')"))


def whole(least_of_them: int) -> st.SearchStrategy[Written]:
    return st.integers(least_of_them, 12).map(lambda one: Written(str(one), f"F({one})"))


def joined(children: st.SearchStrategy[Written]) -> st.SearchStrategy[Written]:
    binary = st.tuples(children, st.sampled_from("+-*/"), children).map(
        lambda one: Written(
            f"({one[0].ours} {one[1]} {one[2].ours})", f"({one[0].pythons}{one[1]}{one[2].pythons})"
        )
    )
    negative = children.map(lambda one: Written(f"-{one.ours}", f"(-{one.pythons})"))
    power = st.tuples(children, st.integers(0, 3)).map(
        lambda one: Written(f"({one[0].ours}) ^ {one[1]}", f"({one[0].pythons})**{one[1]}")
    )
    called = st.tuples(
        st.sampled_from(("mean", "min", "max", "range")), st.lists(children, min_size=2, max_size=4)
    ).map(
        lambda one: Written(
            f"{one[0]}({', '.join(each.ours for each in one[1])})",
            f"{one[0]}({','.join(each.pythons for each in one[1])})",
        )
    )
    sized = children.map(lambda one: Written(f"abs({one.ours})", f"abs({one.pythons})"))
    return st.one_of(binary, negative, power, called, sized)


FORMULAS = joined(st.recursive(st.one_of(NAMED, whole(0), DECIMALS), joined, max_leaves=8))
SMOOTH = joined(st.recursive(st.one_of(NAMED, NAMED, whole(1)), joined, max_leaves=6))
"""Without bare zeros: powers of those have no derivative in the other library."""
THREE = (Decimal("86.01"), Decimal("54.985"), Decimal("3"))
SIZES = st.tuples(*(st.decimals("0.001", 200, places=3) for _ in NAMES))


def ours(text: str, sizes: dict[str, Decimal]) -> tuple[Any, dict[Any, Fraction]]:
    """Everything a ratio, so that any formula makes sense."""
    return evaluate(parse(text), lambda name: [Term(name.id, sizes[name.id])], lambda _: "1", "1")


def pythons(text: str, sizes: dict[str, Any]) -> Any:
    names = {variable(name): size for name, size in sizes.items()}
    return eval(text, {"F": Fraction, **FUNCTIONS, **names})


@DRAWN
@given(FORMULAS, SIZES)
def test_the_value_is_what_python_makes_of_it_exactly(
    written: Written, drawn: tuple[Decimal, ...]
) -> None:
    sizes = dict(zip(NAMES, drawn, strict=True))
    fractions = {name: Fraction(size) for name, size in sizes.items()}
    try:
        expected = pythons(written.pythons, fractions)
    except ZeroDivisionError:
        with pytest.raises(ArithmeticError):
            ours(written.ours, sizes)
        return
    assert Fraction(ours(written.ours, sizes)[0]) == expected


@DRAWN
@given(SMOOTH, SIZES)
@example(Written("2 / bore", "F(2)/bore"), THREE)
@example(Written("main-journal / bore / c_3", "main_journal/bore/c_3"), THREE)
@example(Written("bore ^ -2 * c_3", "bore**(-2)*c_3"), THREE)
@example(Written("-abs(bore - c_3)", "-abs(bore-c_3)"), THREE)
def test_the_derivatives_are_those_of_the_uncertainties_library(
    written: Written, drawn: tuple[Decimal, ...]
) -> None:
    sizes = dict(zip(NAMES, drawn, strict=True))
    try:
        value, slopes = ours(written.ours, sizes)
    except ArithmeticError:
        return
    numbers = {name: ufloat(float(size), 1.0, tag=name) for name, size in sizes.items()}
    text = written.pythons.replace("F(", "float(")
    try:
        theirs = pythons(text, numbers)
    except (ZeroDivisionError, OverflowError):  # in floats, where ours is merely very small
        return
    if not hasattr(theirs, "derivatives"):
        assert not any(slopes.values())
        return
    assume(not _on_an_edge(written, sizes))
    for name in {one.id for one in parse(written.ours).names}:
        expected = theirs.derivatives.get(numbers[name], 0.0)
        scale = max(1.0, *(abs(float(slope)) for slope in slopes.values()), abs(float(value)))
        assert float(slopes[name]) == pytest.approx(expected, rel=1e-6, abs=1e-6 * scale)


def _on_an_edge(written: Written, sizes: dict[str, Decimal]) -> bool:
    """Where two arguments of min, max or range are equal, or abs meets zero, a derivative depends
    on the side: found by moving every size a little both ways."""
    if not any(f"{name}(" in written.ours for name in FUNCTIONS):
        return False
    step = Decimal("1e-9")
    seen = []
    for name in sizes:
        for by in (-step, step):
            try:
                _, slopes = ours(written.ours, {**sizes, name: sizes[name] + by})
            except ArithmeticError:
                return True
            seen.append(slopes)
    try:
        _, here = ours(written.ours, sizes)
    except ArithmeticError:
        return True
    for slopes in seen:
        for key, slope in here.items():
            if abs(slope - slopes[key]) > Fraction(1, 10**4) * (1 + abs(slope)):
                return True
    return False


@DRAWN
@given(SIZES, st.sampled_from(["mm", "µm", "in", "thou", "m"]), st.sampled_from(["mL", "in³", "L"]))
def test_units_change_the_figures_but_not_the_quantity(
    drawn: tuple[Decimal, ...], length: str, volume: str
) -> None:
    formula = parse("pi / 4 * bore ^ 2 * (main-journal + abs(c_3 - bore)) + min(bore, c_3) ^ 3")
    sizes = dict(zip(NAMES, drawn, strict=True))
    millimetres, cubic = base(length)[1], base(volume)[1]

    def terms(name: Name) -> list[Term]:
        return [Term(name.id, Fraction(sizes[name.id]) / millimetres)]

    check(formula, lambda _: length, volume)
    value, slopes = evaluate(formula, terms, lambda _: length, volume)
    plain, plain_slopes = evaluate(
        formula, lambda name: [Term(name.id, sizes[name.id])], lambda _: "mm", "mm³"
    )
    assert Fraction(value) * cubic == Fraction(plain)
    for name in NAMES:
        assert slopes[name] * cubic == plain_slopes[name] * millimetres


@DRAWN
@given(st.text(alphabet="ab1 .,+-*/^()[]minax²×\n", max_size=60))
def test_any_text_is_a_formula_or_an_error_with_a_place(text: str) -> None:
    found: FormulaError | None = None
    try:
        formula = parse(text)
        assert all(text.startswith(name.id, name.at) for name in formula.names)
        measures(formula, lambda _: "mm")
    except FormulaError as error:
        found = error
    if found is not None:
        assert 0 <= found.at <= len(text)
        assert found.message
        assert found.mend
