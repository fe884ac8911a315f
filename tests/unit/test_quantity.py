"""Unit names, exact conversion, text and resolution."""

from __future__ import annotations

import subprocess
import sys
from decimal import Decimal, localcontext
from fractions import Fraction

import pytest

from capture import quantity, units
from capture.errors import CaptureError, UnitError
from capture.quantity import (
    Number,
    convert,
    dimension,
    exact,
    factor,
    resolution,
    text,
    unit_name,
)

SPELLINGS = {
    "mm": ["mm", "MM", "Mm", " mm ", "mm.", "㎜", "millimetres", "Millimeter"],
    "µm": ["µm", "μm", "um", "UM", "µM", "ΜM", "micron", "microns", "㎛"],
    "in": ["in", "IN", "In", "in.", "inch", "INCHES", '"', "″", "”", "''"],
    "thou": ["thou", "THOU"],
    "µin": ["µin", "uin", "microinch"],
    "N·m": ["Nm", "NM", "N.m", "N*m", "N·m", "N⋅m", "N-m", "N m", "N•m", "N×m", "newton metres"],
    "mN·m": ["mNm", "mN·m", "mN.m"],
    "cN·m": ["cNm", "CNM", "cN.m"],
    "N·cm": ["Ncm", "N.cm"],
    "lbf·ft": [
        *("ft-lb", "ft.lb", "ftlb", "FT-LB", "FT LBS", "lbf.ft", "lbf·ft", "lb-ft", "LBFT"),
        *("ft-lbf", "ft·lbf", "foot-pounds", "pound-feet", "lbs.ft."),
    ],
    "lbf·in": ["in-lb", "in.lb", "IN-LB", "inlb", "lbf.in", "lb-in", "in lbs", "inch-pounds"],
    "ozf·in": ["oz-in", "in-oz", "ozf·in", "OZIN"],
    "kgf·cm": ["kgf·cm", "kgf.cm", "kgfcm", "KGCM", "kg-cm"],
    "kgf·m": ["kgf·m", "kgm", "kg.m", "m·kg", "kp·m"],
    "°": ["°", "º", "deg", "DEG", "degrees"],
    "°C": ["°C", "℃", "C", "degC", "DEG C", "deg. C", "celsius"],
    "°F": ["°F", "℉", "F", "degF", "fahrenheit"],
    "g": ["g", "G", "grams"],
    "kg": ["kg", "KG", "Kg"],
    "cm³": ["cc", "CC", "cm3", "cm³", "cm^3", "cm**3", "ccm"],
    "mL": ["ml", "mL", "ML"],
    "in³": ["in3", "in³", "cu in", "cu.in.", "CU IN"],
    "kPa": ["kPa", "KPA", "kpa"],
    "MPa": ["MPa", "MPA"],
    "bar": ["bar", "BAR"],
    "psi": ["psi", "PSI", "lbf/in²", "lb/in2"],
    "kgf/cm²": ["kgf/cm²", "kg/cm2", "KG/CM2"],
    "N": ["N", "newtons"],
}


@pytest.mark.parametrize(
    ("word", "name"), [(word, name) for name, words in SPELLINGS.items() for word in words]
)
def test_words_gauges_send_and_people_type(word: str, name: str) -> None:
    assert unit_name(word) == name


@pytest.mark.parametrize("name", list(units.DIMENSIONS))
def test_our_own_names_are_accepted_as_they_stand_and_through_the_word_list(name: str) -> None:
    assert unit_name(name) == name
    assert units.known(name) == name


def test_no_spelling_has_two_meanings() -> None:
    meanings: dict[str, set[str]] = {}
    listed = [
        *((word, unit) for unit, words in units._WORDS.items() for word in words.split()),
        *units._torque_words(),
    ]
    for word, unit in listed:
        meanings.setdefault(units.normal(word), set()).add(unit)
    assert {word: found for word, found in meanings.items() if len(found) > 1} == {}
    assert all(word == word.lower() for word in meanings)


@pytest.mark.parametrize(
    ("word", "choices"),
    [
        ("nm", ["N·m", "µm"]),
        ("nM", ["N·m", "µm"]),
        ("MNM", ["mN·m"]),
        ("mil", ["thou", "mm", "angle"]),
        ("MILS", ["thou", "mm"]),
        ("mPa", ["MPa", "Pa"]),
        ("mpa", ["MPa", "Pa"]),
        ("tenths", ["in", "mm"]),
        ("'", ["ft", "arcmin"]),
        ("ft/lb", ["lbf·ft"]),
        ("pounds", ["lb", "lbf"]),
    ],
)
def test_a_word_with_two_meanings_is_refused_with_the_choices(
    word: str, choices: list[str]
) -> None:
    with pytest.raises(UnitError) as caught:
        unit_name(word)
    message = str(caught.value)
    assert repr(word) in message
    assert "write" in message
    for choice in choices:
        assert choice in message


@pytest.mark.parametrize(
    "word", ["", " ", "furlong", "m·m", "m m", "Å", "mm mm", "M", "\x00", "🙂"]
)
def test_an_unknown_word_is_an_error_that_names_the_known_units(word: str) -> None:
    with pytest.raises(UnitError, match="Known units: mm, µm") as caught:
        unit_name(word)
    assert repr(word) in str(caught.value)
    assert isinstance(caught.value, CaptureError)


@pytest.mark.parametrize(
    ("unit", "expected"),
    [
        ("in", "length"),
        ("lbf·ft", "torque"),
        ("deg", "angle"),
        ("rad", "angle"),
        ("F", "temperature"),
        ("kg", "mass"),
        ("cc", "volume"),
        ("psi", "pressure"),
        ("inHg", "pressure"),
        ("lbf", "force"),
    ],
)
def test_dimension(unit: str, expected: str) -> None:
    assert dimension(unit) == expected


def test_factor_is_exact_and_takes_any_accepted_word() -> None:
    assert factor("in", "mm") == Fraction(127, 5)
    assert factor("INCH", "MM") == Fraction(127, 5)
    assert factor("mm", "in") == Fraction(5, 127)
    assert factor("thou", "µm") == Fraction(127, 5)
    assert factor("ft-lb", "in-lb") == 12
    assert factor("°C", "C") == 1


@pytest.mark.parametrize(("unit", "to"), [("°C", "°F"), ("K", "°C"), ("°F", "K")])
def test_temperatures_have_no_factor(unit: str, to: str) -> None:
    with pytest.raises(UnitError, match="offset"):
        factor(unit, to)


@pytest.mark.parametrize(
    ("unit", "to"), [("mm", "N·m"), ("kg", "lbf"), ("°", "°C"), ("cm³", "mm"), ("rad", "psi")]
)
def test_other_dimensions_are_refused_by_name(unit: str, to: str) -> None:
    with pytest.raises(UnitError, match=dimension(unit)) as caught:
        convert(Decimal(1), unit, to)
    assert dimension(to) in str(caught.value)
    with pytest.raises(UnitError):
        factor(unit, to)


def test_unknown_units_are_refused_by_convert_and_factor() -> None:
    with pytest.raises(UnitError, match="furlong"):
        convert(Decimal(1), "furlong", "mm")
    with pytest.raises(UnitError, match="furlong"):
        convert(Decimal(1), "mm", "furlong")
    with pytest.raises(UnitError, match="furlong"):
        factor("mm", "furlong")


def test_the_same_unit_gives_the_value_itself() -> None:
    value = Decimal("25.400")
    assert convert(value, "mm", "mm") is value
    assert convert(value, "MM", "mm") is value
    third = Fraction(1, 3)
    assert convert(third, "in", "in") is third


@pytest.mark.parametrize(
    ("value", "unit", "to", "expected"),
    [
        ("1.000", "in", "mm", "25.4"),
        ("3.4340", "in", "mm", "87.2236"),
        ("-0.0005", "in", "mm", "-0.0127"),
        ("25.400", "mm", "in", "1"),
        ("12.7", "µm", "thou", "0.5"),
        ("88.1281666", "N·m", "N·cm", "8812.81666"),
        ("20", "°C", "°F", "68"),
        ("-40", "°C", "°F", "-40"),
        ("68", "°F", "°C", "20"),
        ("0", "°C", "K", "273.15"),
        ("293.15", "K", "°C", "20.00"),
        ("0", "K", "°F", "-459.67"),
        ("90", "°", "turn", "0.25"),
        ("1.5", "°", "arcmin", "90"),
        ("1", "kg", "g", "1000"),
        ("1", "L", "cc", "1000"),
        ("1", "in3", "cc", "16.387064"),
        ("101.325", "kPa", "mbar", "1013.25"),
        ("1", "atm", "kPa", "101.325"),
    ],
)
def test_conversions_that_end_are_decimals(value: str, unit: str, to: str, expected: str) -> None:
    converted = convert(Decimal(value), unit, to)
    assert isinstance(converted, Decimal)
    assert converted == Decimal(expected)


def test_a_conversion_that_does_not_end_is_a_fraction() -> None:
    assert convert(Decimal("1"), "mm", "in") == Fraction(5, 127)
    assert isinstance(convert(Decimal("1"), "mm", "in"), Fraction)
    assert convert(Decimal("1"), "°F", "K") == Fraction(46067, 180)


def test_a_fraction_converts_to_a_decimal_where_it_then_ends() -> None:
    back = convert(Fraction(5, 127), "in", "mm")
    assert isinstance(back, Decimal)
    assert back == 1


def test_conversion_does_not_depend_on_the_callers_decimal_context() -> None:
    digits = "1.2345678901234567890123456789012345678901234567"
    with localcontext() as context:
        context.prec = 3
        converted = convert(Decimal(digits), "in", "mm")
    assert converted == Fraction(digits) * Fraction(127, 5)


def test_a_radian_is_known_to_fifty_digits() -> None:
    half_turn = convert(Decimal("3.14159265358979323846"), "rad", "°")
    assert abs(Fraction(half_turn) - 180) < Fraction(1, 10**18)


def test_pint_is_imported_only_when_a_rare_unit_asks_for_it() -> None:
    script = (
        "import sys; from decimal import Decimal; from capture.quantity import convert, unit_name\n"
        "convert(Decimal(1), unit_name('ft-lb'), 'N·m'); unit_name('rad')\n"
        "assert 'pint' not in sys.modules, 'pint was imported early'\n"
        "convert(Decimal(1), 'rad', '°')\n"
        "assert 'pint' in sys.modules, 'pint was not used'\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize(
    ("value", "places", "expected"),
    [
        (Decimal("25.400"), None, "25.400"),
        (Decimal("1E+3"), None, "1000"),
        (Decimal("1E-7"), None, "0.0000001"),
        (Decimal("-0.000"), None, "0.000"),
        (Fraction(1, 4), None, "0.25"),
        (Fraction(-1, 3), None, "-0.333333333333"),
        (Fraction(5, 127), None, "0.0393700787402"),
        (Fraction(2_000_000_000_000_000, 3), None, "666666666667000"),
        (Decimal("0.0005"), 3, "0.000"),
        (Decimal("0.0015"), 3, "0.002"),
        (Decimal("0.0025"), 3, "0.002"),
        (Decimal("0.00250000000000000000000000000000000000001"), 3, "0.003"),
        (Decimal("-0.0004"), 3, "0.000"),
        (Decimal("-0.0006"), 3, "-0.001"),
        (Decimal("25.4"), 3, "25.400"),
        (Decimal("2.5"), 0, "2"),
        (Decimal("25"), -1, "20"),
        (Fraction(1, 3), 4, "0.3333"),
        (Fraction(1, 8), 2, "0.12"),
        (Fraction(3, 8), 2, "0.38"),
        (Fraction(2), 3, "2.000"),
    ],
)
def test_text(value: Number, places: int | None, expected: str) -> None:
    assert text(value, places) == expected


def test_exact_keeps_decimals_and_finds_those_that_end() -> None:
    sent = Decimal("25.400")
    assert exact(sent) is sent
    ended = exact(Fraction(254, 10))
    assert (type(ended), str(ended)) == (Decimal, "25.4")
    assert exact(Fraction(1, 1024)) == Decimal("0.0009765625")
    assert exact(Fraction(7, 5**9)) == Decimal("0.000003584")
    assert isinstance(exact(Fraction(1, 3)), Fraction)
    assert str(exact(Fraction(-12))) == "-12"


@pytest.mark.parametrize(
    ("digits", "step"),
    [("25.400", "0.001"), ("25", "1"), ("-0.0005", "0.0001"), ("+1.0", "0.1"), (".5", "0.1")],
)
def test_resolution(digits: str, step: str) -> None:
    assert str(resolution(digits)) == step


def test_resolution_of_many_decimals() -> None:
    assert resolution("0." + "0" * 40) == Decimal("1E-40")


@pytest.mark.parametrize("digits", ["", "-", ".", "1e3", "1.2.3", "NaN", "1,5", "0x1", "1 2"])
def test_resolution_of_what_is_not_digits_is_an_error(digits: str) -> None:
    with pytest.raises(ValueError, match="not decimal digits"):
        resolution(digits)


def test_what_is_kept_between_calls_does_not_grow_with_spellings() -> None:
    convert(Decimal(1), "in", "mm")
    before = len(quantity._plans)
    for spaces in range(1, 20):
        convert(Decimal(1), " " * spaces + "in", "mm")
    assert len(quantity._plans) == before
