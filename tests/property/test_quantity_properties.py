"""Conversion loses nothing, keeps order, and rounding happens once."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from capture import units
from capture.errors import UnitError
from capture.quantity import convert, dimension, exact, factor, resolution, text, unit_name

NUMBERS = st.decimals(min_value=-(10**9), max_value=10**9, allow_nan=False, places=None).filter(
    lambda value: value.is_finite()
)
DIGITS = st.from_regex(r"-?[0-9]{1,9}(\.[0-9]{1,9})?", fullmatch=True)
EXACT_UNITS = [unit for unit in units.DIMENSIONS if unit not in units.RARE]


@st.composite
def unit_chains(draw: st.DrawFn, length: int = 3) -> list[str]:
    """Units of one dimension, temperatures included."""
    first = draw(st.sampled_from(EXACT_UNITS))
    alike = [unit for unit in EXACT_UNITS if dimension(unit) == dimension(first)]
    return [first, *(draw(st.sampled_from(alike)) for _ in range(length - 1))]


@given(NUMBERS, unit_chains())
def test_there_and_back_is_the_very_value(value: Decimal, chain: list[str]) -> None:
    unit, to, _ = chain
    assert convert(convert(value, unit, to), to, unit) == value


@given(NUMBERS, unit_chains())
def test_a_detour_changes_nothing(value: Decimal, chain: list[str]) -> None:
    unit, between, to = chain
    assert convert(convert(value, unit, between), between, to) == convert(value, unit, to)


@given(NUMBERS, NUMBERS, unit_chains())
def test_order_is_kept(one: Decimal, other: Decimal, chain: list[str]) -> None:
    unit, to, _ = chain
    before = (one > other) - (one < other)
    a, b = Fraction(convert(one, unit, to)), Fraction(convert(other, unit, to))
    assert (a > b) - (a < b) == before


@given(NUMBERS, unit_chains())
def test_the_quick_way_agrees_with_plain_fractions(value: Decimal, chain: list[str]) -> None:
    unit, to, _ = chain
    if dimension(unit) != "temperature":
        assert Fraction(convert(value, unit, to)) == Fraction(value) * factor(unit, to)


@given(unit_chains())
def test_factors_multiply_along_a_chain(chain: list[str]) -> None:
    unit, between, to = chain
    if dimension(unit) != "temperature":
        assert factor(unit, between) * factor(between, to) == factor(unit, to)
        assert factor(unit, to) * factor(to, unit) == 1


@given(st.fractions(max_denominator=10**6))
def test_exact_is_a_decimal_just_where_the_decimals_end(value: Fraction) -> None:
    made = exact(value)
    rest = value.denominator
    for prime in (2, 5):
        while rest % prime == 0:
            rest //= prime
    assert isinstance(made, Decimal) == (rest == 1)
    assert made == value


@given(DIGITS)
def test_digits_as_sent_come_back_as_text(digits: str) -> None:
    value = Decimal(digits)
    shown = text(value)
    assert Decimal(shown) == value
    assert shown.partition(".")[2] == digits.partition(".")[2]
    assert resolution(shown) == resolution(digits)


@given(st.fractions(), st.integers(min_value=0, max_value=12))
def test_rounded_text_is_plain_and_within_half_a_step(value: Fraction, places: int) -> None:
    shown = text(value, places)
    assert set(shown) <= set("-0123456789.")
    assert len(shown.partition(".")[2]) == places
    assert abs(Fraction(shown) - value) <= Fraction(1, 2 * 10**places)


@given(st.fractions(), st.integers(min_value=0, max_value=12))
def test_rounding_is_even_about_zero(value: Fraction, places: int) -> None:
    assert Fraction(text(-value, places)) == -Fraction(text(value, places))


@given(st.integers(), st.integers(min_value=0, max_value=9))
def test_a_tie_goes_to_the_even_digit(count: int, places: int) -> None:
    tie = Fraction(2 * count + 1, 2 * 10**places)
    assert int(text(tie, places).replace(".", "")) % 2 == 0


@given(st.text(max_size=12))
def test_any_word_gives_one_of_our_names_or_a_unit_error(word: str) -> None:
    try:
        name = unit_name(word)
    except UnitError as error:
        said = str(error)
    else:
        assert name in units.DIMENSIONS
        assert unit_name(name) == name
        return
    assert repr(word) in said


@given(
    st.sampled_from(sorted(set(units._FOLDED) - set(units.REFUSED))),
    st.sampled_from([" ", ".", "·", "-", "*", " . "]),
)
def test_case_and_what_separates_do_not_matter_in_listed_words(word: str, separator: str) -> None:
    name = unit_name(word)
    assert unit_name(word.replace("·", separator)) == name
    assert unit_name(f" {word.upper()}. ") == name
