"""Formulas: parsing, units, values and derivatives, and every mistake with its place and mend."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

import pytest

from capture.errors import UnitError
from capture.formula.dimension import NONE, Dimension, base, check, measures, said
from capture.formula.evaluate import Term, evaluate
from capture.formula.parse import DEEPEST, PI, parse
from capture.formula.problem import FormulaError
from capture.formula.tree import Call, Literal, Name, Operation
from capture.quantity import Number

Sizes = Mapping[str, Sequence[str]]
ALL_MM: Callable[[str], str] = lambda _: "mm"  # noqa: E731 # a table of one unit


def computed(
    text: str, sizes: Sizes, unit: str = "mm", units: dict[str, str] | None = None
) -> tuple[Number, dict[object, Fraction]]:
    """Keys of terms are the name where it has one size, else (name, index)."""

    def terms(name: Name) -> list[Term]:
        listed = sizes[name.id]
        if name.point is not None:
            return [Term((name.id, int(name.point)), Decimal(listed[int(name.point)]))]
        if len(listed) == 1:
            return [Term(name.id, Decimal(listed[0]))]
        return [Term((name.id, at), Decimal(size)) for at, size in enumerate(listed)]

    named = {**dict.fromkeys(sizes, "mm"), **(units or {})}
    formula = parse(text)
    check(formula, named.__getitem__, unit)
    value, slopes = evaluate(formula, terms, named.__getitem__, unit)
    return value, dict(slopes)


# --- parsing ----------------------------------------------------------------------------------


def test_a_formula_keeps_its_text_and_its_names_with_their_places() -> None:
    formula = parse("housing-bore - 2 * shell[top] - housing-bore")
    assert formula.text == "housing-bore - 2 * shell[top] - housing-bore"
    assert formula.names == (
        Name("housing-bore", None, 0),
        Name("shell", "top", 19),
        Name("housing-bore", None, 32),
    )


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("a + b * c", "a + (b * c)"),
        ("a - b - c", "(a - b) - c"),
        ("a / b / c", "(a / b) / c"),
        ("a * b ^ 2", "a * (b ^ 2)"),
        ("-a ^ 2", "-(a ^ 2)"),
        ("-a * b", "(-a) * b"),
        ("a - -b", "a - (-b)"),
        ("a/b", "a / b"),
        (" a\n+\tb ", "a+b"),
        ("2*a", "2 * a"),
        ("a[1]", "a[ 1 ]"),
    ],
)
def test_the_usual_order_of_precedence(one: str, other: str) -> None:
    def bare(node: object) -> object:
        if isinstance(node, Operation):
            return node.sign, bare(node.left), bare(node.right)
        if isinstance(node, Name):
            return node.id, node.point
        return node

    assert bare(parse(one).root) == bare(parse(other).root)


def test_a_minus_without_spaces_belongs_to_a_name_but_not_to_a_number() -> None:
    assert parse("bore-2").names == (Name("bore-2", None, 0),)
    assert parse("2-bore").root == Operation("-", Literal(Fraction(2)), Name("bore", None, 2), 1)
    assert parse("bore -2").root == Operation("-", Name("bore", None, 0), Literal(Fraction(2)), 5)


def test_numbers_are_exact_and_pi_is_a_number() -> None:
    assert parse("0.1").root == Literal(Fraction(1, 10))
    assert parse("pi").root == Literal(PI)
    # pi to 50 decimals, as printed in any table; the double next to it agrees to its last bit.
    assert abs(PI - Fraction("3.14159265358979323846264338327950288")) < Fraction(1, 10**35)
    assert float(PI) == math.pi


def test_a_function_takes_arguments() -> None:
    root = parse("max(a, b + 1)").root
    assert isinstance(root, Call)
    assert (root.function, len(root.arguments), root.at) == ("max", 2, 0)


@pytest.mark.parametrize(
    ("text", "at", "message", "mend"),
    [
        ("", 0, "the formula is empty", "bore - piston"),
        ("   ", 0, "the formula is empty", "bore - piston"),
        ("a +", 3, "stops short", "comes next"),
        ("a + * b", 4, '"*" does not stand here', "take it out"),
        ("a b", 2, 'no sign stands before "b"', "+ - * or /"),
        ("2 a", 2, 'no sign stands before "a"', "+ - * or /"),
        ("2a", 0, '"2a" is neither a number nor a name', "2 * …"),
        ("1.2.3", 0, '"1.2.3" is neither', "1.2 * …"),
        ("1e3", 0, '"1e3" is neither', "1 * …"),
        (".5", 0, "begins with a digit", "0 before the point"),
        ("0,5", 1, "a comma does not stand here", "decimal point"),
        ("(a", 0, '"(" is never closed', "write )"),
        ("a)", 1, '")" does not stand here', "take it out"),
        ("a[top", 1, '"[" is never closed', "write ]"),
        ("a[]", 2, "no point in the brackets", "a[top]"),
        ("a[top thrust]", 6, 'no sign stands before "thrust"', "+ - * or /"),
        ("sum(a, b)", 0, '"sum" is no function', "write * between"),
        ("mox(a, b)", 0, '"mox" is no function', "write max(…)"),
        ("abs(a, b)", 0, "abs takes one argument, not 2", "of each"),
        ("max()", 4, '")" does not stand here', "take it out"),
        ("a ^ b", 2, "^ takes a whole number", "bore ^ 2"),
        ("a ^ 0.5", 2, "^ takes a whole number", "bore ^ 2"),
        ("a ^ 2 ^ 3", 6, "a power of a power", "parentheses"),
        ("a ^ 10", 2, "a power of 10 is too high", "at most 9"),
        ("a ** 2", 2, '"**" is no sign', "write ^"),
        ("a × b", 2, '"×" is no sign', "write *"),
        ("a − b", 2, '"−" is no sign', "write -"),
        ("a ÷ b", 2, '"÷" is no sign', "write /"),
        ("π * a", 0, '"π" is no sign', "write pi"),
        ("a²", 1, '"²" is no sign', "write ^ 2"),
        ("a $ b", 2, '"$" has no meaning', "numbers, names"),
        ("größe", 2, '"ö" has no meaning', "numbers, names"),
        ("a = b", 2, '"=" has no meaning', "numbers, names"),
        ("a\x00", 1, "character 0", "numbers, names"),
        ("1" * 41, 0, "a number of 41 digits", "40"),
    ],
)
def test_a_mistake_is_named_with_its_place_and_mend(
    text: str, at: int, message: str, mend: str
) -> None:
    with pytest.raises(FormulaError) as caught:
        parse(text)
    assert caught.value.at == at
    assert message in caught.value.message
    assert mend in caught.value.mend
    assert isinstance(caught.value, ValueError)
    assert str(caught.value) == caught.value.message


@pytest.mark.parametrize(
    "text",
    [
        "(" * 10_000 + "a" + ")" * 10_000,
        "(" * 1_900 + "a" + ")" * 1_900,
        "(" * 4_000,
        "-" * 3_999 + "a",
        "abs(" * 900 + "a" + ")" * 100,
        "+".join(["a"] * 1_900),
        "*".join(["a"] * 1_900),
        "a ^ -" * 700,
    ],
    ids=lambda text: text[:4],
)
def test_depth_and_length_are_bounded(text: str) -> None:
    with pytest.raises(FormulaError):
        parse(text)


def test_as_deep_as_allowed_can_be_evaluated() -> None:
    text = "(" * DEEPEST + "a" + ")" * DEEPEST
    assert computed(text, {"a": ["2"]}) == (Decimal(2), {"a": Fraction(1)})
    text = "+".join(["a"] * (DEEPEST + 1))
    assert computed(text, {"a": ["2"]}) == (Decimal(122), {"a": Fraction(61)})
    text = "mean(" + ",".join(["a"] * 1_500) + ")"
    assert computed(text, {"a": ["2"]}) == (Decimal(2), {"a": Fraction(1)})


def test_powers_of_powers_stay_within_bounds() -> None:
    parse("((a ^ 9) ^ 9) ^ 9")
    with pytest.raises(FormulaError) as caught:
        parse("(((a ^ 9) ^ 9) ^ 9) ^ 9")
    assert "too many factors" in caught.value.message


# --- units ------------------------------------------------------------------------------------

UNITS = {
    "length": "mm", "inches": "in", "volume": "mL", "force": "kN", "torque": "N·m",
    "stress": "MPa", "angle": "°", "mass": "g", "warm": "°C", "hot": "°F", "factor": "1",
}  # fmt: skip


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("length + inches", "µm"),
        ("length * length * inches", "mL"),
        ("length ^ 3", "L"),
        ("volume / length ^ 2", "in"),
        ("volume / volume", "1"),
        ("(volume + length ^ 3) / volume", "1"),
        ("length / inches", "1"),
        ("force * length", "lbf·ft"),
        ("torque / (factor * length)", "N"),
        ("force / length ^ 2", "psi"),
        ("stress * length ^ 2", "kN"),
        ("length ^ -2 * force", "MPa"),
        ("length ^ 0", "1"),
        ("factor * angle", "arcmin"),
        ("mass + mass", "kg"),
        ("warm - warm", "°C"),
        ("mean(warm, warm * 2)", "°C"),
        ("warm ^ 1", "°C"),
        ("hot / 2", "°F"),
        ("max(length, -inches)", "mm"),
        ("range(length) + abs(length)", "mm"),
        ("1 + pi", "1"),
    ],
)
def test_units_fit(text: str, unit: str) -> None:
    check(parse(text), UNITS.__getitem__, unit)


@pytest.mark.parametrize(
    ("text", "unit", "at", "message"),
    [
        ("length + volume", "mm", 7, "+ adds a length and a volume"),
        ("length - force", "mm", 7, "- subtracts a length and a force"),
        ("length - 2", "mm", 7, "- subtracts a length and a bare number"),
        ("2 + length", "mm", 2, "+ adds a bare number and a length"),
        ("max(length, angle)", "mm", 0, "max(…) takes together a length and an angle"),
        ("length + length ^ 2", "mm", 7, "+ adds a length and length^2"),
        ("torque + force / length", "mm", 7, "+ adds a torque and length^-1 · force"),
        ("length", "mL", 0, "gives a length, but the unit mL is of a volume"),
        ("length", "1", 0, "gives a length, but the unit 1 is of a bare number"),
        ("length * mass", "g", 0, "gives length · mass, but"),
        ("warm * length", "mm", 5, "a temperature is multiplied or divided"),
        ("warm / warm", "1", 5, "a temperature is multiplied or divided"),
        ("2 / warm", "1", 2, "a temperature is multiplied or divided"),
        ("warm ^ 2", "°C", 5, "a temperature is multiplied or divided"),
        ("warm - hot", "°C", 7, '"hot" is in °F but the result in °C'),
        ("hot", "°C", 0, '"hot" is in °F but the result in °C'),
    ],
)
def test_units_that_do_not_fit_are_named_with_their_place(
    text: str, unit: str, at: int, message: str
) -> None:
    with pytest.raises(FormulaError) as caught:
        check(parse(text), UNITS.__getitem__, unit)
    assert caught.value.at == at
    assert message in caught.value.message
    assert caught.value.mend


def test_base_units_are_exact() -> None:
    assert base("mL") == (Dimension(length=3), Fraction(1000))
    assert base("in³") == (Dimension(length=3), Fraction("25.4") ** 3)
    assert base("N·m") == (Dimension(length=1, force=1), Fraction(1000))
    assert base("MPa") == (Dimension(length=-2, force=1), Fraction(1))
    assert base("kPa") == (Dimension(length=-2, force=1), Fraction(1, 1000))
    assert base("1") == (NONE, Fraction(1))
    with pytest.raises(UnitError):
        base("ell")
    assert measures(parse("length * length"), ALL_MM) == Dimension(length=2)
    assert said(Dimension(length=3)) == "a volume"


# --- values and derivatives -------------------------------------------------------------------


def test_oil_clearance_by_parts() -> None:
    """60.000 - 2 × 1.985 - 55.985 = 0.045, by definition."""
    sizes = {"housing-bore": ["60.000"], "shell": ["1.985"], "journal": ["55.985"]}
    value, slopes = computed("housing-bore - 2 * shell - journal", sizes)
    assert value == Decimal("0.045")
    assert slopes == {"housing-bore": 1, "shell": -2, "journal": -1}


def test_swept_volume_in_other_units() -> None:
    """4 in bore and stroke: 10.16³ π/4 = 823.704 cm³ (six of them 4942.222), own computation."""
    units = {"bore": "in", "stroke": "mm"}
    sizes = {"bore": ["4"], "stroke": ["101.6"]}
    value, slopes = computed("pi / 4 * bore ^ 2 * stroke", sizes, "mL", units)
    assert float(value) == pytest.approx(10.16**3 * math.pi / 4, rel=1e-15)
    assert 6 * float(value) == pytest.approx(4942.222, abs=1e-3)
    assert slopes["bore"] == Fraction(value) * 2 / 4  # per inch: dV/dB = 2 V / B
    assert slopes["stroke"] == Fraction(value) / Fraction("101.6")


def test_compression_ratio_is_a_bare_number() -> None:
    """(823.70 + 100.00) / 100.00 = 9.237 (a piston maker's worked example prints 9.2370)."""
    units = {"swept": "mL", "clearance": "cm³"}
    sizes = {"swept": ["823.70"], "clearance": ["100.00"]}
    value, slopes = computed("(swept + clearance) / clearance", sizes, "1", units)
    assert value == Decimal("9.237")
    assert slopes == {"swept": Fraction(1, 100), "clearance": -Fraction("823.7") / 10_000}


def test_a_name_of_several_points_is_their_mean_and_functions_look_over_them() -> None:
    sizes = {"bore": ["86.01", "86.04", "86.01"], "piston": ["85.97"]}
    value, slopes = computed("bore - piston", sizes)
    assert value == Decimal("0.05")
    assert slopes[("bore", 1)] == Fraction(1, 3)
    assert computed("mean(bore)", sizes)[0] == Decimal("86.02")
    assert computed("max(bore)", sizes)[0] == Decimal("86.04")
    assert computed("range(bore)", sizes)[0] == Decimal("0.03")
    assert computed("bore[1] - bore[0]", sizes)[0] == Decimal("0.03")
    # of equal ones the first, so that the same sizes give the same derivatives
    assert computed("min(bore)", sizes)[1] == {("bore", 0): 1, ("bore", 1): 0, ("bore", 2): 0}
    # several arguments: over the arguments, a name among them being its mean
    assert computed("max(bore, piston)", sizes)[0] == Decimal("86.02")
    assert computed("range(bore, piston)", sizes)[0] == Decimal("0.05")
    assert computed("mean(bore, piston)", sizes)[0] == Decimal("85.995")


def test_the_same_size_under_two_names_adds_its_derivatives() -> None:
    sizes = {"bore": ["10", "20"]}
    value, slopes = computed("bore + bore[1]", sizes)
    assert (value, slopes) == (
        Decimal(35),
        {("bore", 0): Fraction(1, 2), ("bore", 1): Fraction(3, 2)},
    )
    assert computed("bore - bore", sizes)[1] == {("bore", 0): 0, ("bore", 1): 0}


def test_absolute_value_turns_the_slope_and_zero_counts_as_positive() -> None:
    assert computed("abs(a)", {"a": ["-3"]}) == (Decimal(3), {"a": Fraction(-1)})
    assert computed("abs(a)", {"a": ["3"]}) == (Decimal(3), {"a": Fraction(1)})
    assert computed("abs(a)", {"a": ["0"]}) == (Decimal(0), {"a": Fraction(1)})


def test_powers() -> None:
    assert computed("a ^ 3 / a ^ 2", {"a": ["2"]}) == (Decimal(2), {"a": Fraction(1)})
    assert computed("a ^ 0", {"a": ["0"]}, "1") == (Decimal(1), {"a": Fraction(0)})
    assert computed("a ^ -1 * a ^ 2", {"a": ["4"]}) == (Decimal(4), {"a": Fraction(1)})


def test_a_value_that_does_not_end_is_a_fraction() -> None:
    value, _ = computed("a / 3", {"a": ["1"]})
    assert value == Fraction(1, 3)


def test_temperatures_are_averaged_in_their_own_unit() -> None:
    units = {"here": "°F", "there": "°F"}
    sizes = {"here": ["68"], "there": ["70"]}
    value, slopes = computed("mean(here, there) - here / 2", sizes, "°F", units)
    assert (value, slopes) == (Decimal(35), {"here": Fraction(0), "there": Fraction(1, 2)})


@pytest.mark.parametrize("text", ["a / (b - b)", "a * (b - b) ^ -1", "a / (0 * b)"])
def test_dividing_by_zero_is_an_arithmetic_error(text: str) -> None:
    formula = parse(text)
    with pytest.raises(ArithmeticError, match="divides by a quantity that is zero"):
        evaluate(formula, lambda name: [Term(name.id, Decimal(2))], ALL_MM, "1")


def test_a_name_without_sizes_is_refused() -> None:
    with pytest.raises(ValueError, match='no size for "a"'):
        evaluate(parse("a"), lambda _: [], ALL_MM, "mm")
