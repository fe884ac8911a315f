"""Unit conversion and rounding against definitions, printed tables and two libraries.

Sources: exact definitions (international yard and pound agreement 1959, standard gravity of the
3rd CGPM), pint 0.25.3 and scipy.constants as independent tables, NIST SP 811, and printed tables
named beside each check. "Memory" means that the value was not seen in the document itself.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pint
import pytest
import scipy.constants as codata

from capture import units
from capture.check import Result, gate
from capture.errors import UnitError
from capture.quantity import convert, factor, text, unit_name
from capture.spec.model import Decision, Limits, Rule

# Our name for a unit → pint's. Written here a second time, so that the table under test is not
# its own witness.
PINT_NAMES = {
    "mm": "millimeter",
    "µm": "micrometer",
    "cm": "centimeter",
    "m": "meter",
    "in": "inch",
    "thou": "thou",
    "µin": "microinch",
    "ft": "foot",
    "N·m": "newton * meter",
    "mN·m": "millinewton * meter",
    "cN·m": "centinewton * meter",
    "N·cm": "newton * centimeter",
    "daN·m": "decanewton * meter",
    "kN·m": "kilonewton * meter",
    "lbf·ft": "pound_force * foot",
    "lbf·in": "pound_force * inch",
    "ozf·in": "ounce_force * inch",
    "kgf·m": "kilogram_force * meter",
    "kgf·cm": "kilogram_force * centimeter",
    "dyn·cm": "dyne * centimeter",
    "°": "degree",
    "arcmin": "arcminute",
    "arcsec": "arcsecond",
    "turn": "turn",
    "rad": "radian",
    "mrad": "milliradian",
    "g": "gram",
    "kg": "kilogram",
    "lb": "pound",
    "oz": "ounce",
    "cm³": "centimeter ** 3",
    "mL": "milliliter",
    "mm³": "millimeter ** 3",
    "L": "liter",
    "in³": "inch ** 3",
    "Pa": "pascal",
    "kPa": "kilopascal",
    "MPa": "megapascal",
    "mbar": "millibar",
    "bar": "bar",
    "psi": "pound_force_per_square_inch",
    "kgf/cm²": "kilogram_force / centimeter ** 2",
    "atm": "standard_atmosphere",
    "mmHg": "millimeter_Hg",
    "inHg": "inch_Hg",
    "N": "newton",
    "kN": "kilonewton",
    "lbf": "pound_force",
    "kgf": "kilogram_force",
}
PINT_TEMPERATURES = {"°C": "degree_Celsius", "°F": "degree_Fahrenheit", "K": "kelvin"}


@pytest.fixture(scope="module")
def registry() -> Any:
    return pint.UnitRegistry(non_int_type=Fraction)


def test_every_unit_has_a_name_in_pint() -> None:
    assert set(PINT_NAMES) | set(PINT_TEMPERATURES) == set(units.DIMENSIONS)


@pytest.mark.parametrize("unit", list(PINT_NAMES))
def test_exact_factors_equal_pints(registry: Any, unit: str) -> None:
    """pint 0.25.3 default_en.txt, counting in fractions: equal, not close.

    Turns and arcs are compared as fractions of a turn: pint reaches them by way of radians with
    50 digits of π, which cancel.
    """
    alike = [other for other in PINT_NAMES if units.DIMENSIONS[other] == units.DIMENSIONS[unit]]
    for other in alike:
        theirs = registry.convert(Fraction(1), PINT_NAMES[unit], PINT_NAMES[other])
        assert factor(unit, other) == Fraction(theirs), (unit, other)


@pytest.mark.parametrize("unit", list(PINT_TEMPERATURES))
@pytest.mark.parametrize("to", list(PINT_TEMPERATURES))
@pytest.mark.parametrize("value", ["-40", "0", "20", "98.6", "37.25"])
def test_temperatures_equal_pints_and_scipys(registry: Any, unit: str, to: str, value: str) -> None:
    ours = Fraction(convert(Decimal(value), unit, to))
    theirs = registry.Quantity(Fraction(value), PINT_TEMPERATURES[unit]).to(PINT_TEMPERATURES[to])
    assert ours == Fraction(theirs.magnitude)
    scale = {"°C": "C", "°F": "F", "K": "K"}
    scipys = codata.convert_temperature(float(value), scale[unit], scale[to])
    assert float(ours) == pytest.approx(float(scipys), rel=1e-14, abs=1e-11)


@pytest.mark.parametrize(
    ("unit", "to", "theirs"),
    [
        ("in", "m", codata.inch),
        ("ft", "m", codata.foot),
        ("thou", "m", codata.mil),
        ("µm", "m", codata.micron),
        ("lb", "kg", codata.pound),
        ("oz", "kg", codata.oz),
        ("lbf", "N", codata.lbf),
        ("kgf", "N", codata.kgf),
        ("psi", "Pa", codata.psi),
        ("bar", "Pa", codata.bar),
        ("atm", "Pa", codata.atm),
        ("L", "cm³", codata.liter / codata.centi**3),
        ("in³", "cm³", (codata.inch / codata.centi) ** 3),
        ("rad", "°", 1 / codata.degree),
        ("arcmin", "°", codata.arcmin / codata.degree),
        ("arcsec", "°", codata.arcsec / codata.degree),
        ("lbf·ft", "N·m", codata.lbf * codata.foot),
        ("lbf·in", "N·m", codata.lbf * codata.inch),
        ("kgf·cm", "N·m", codata.kgf * codata.centi),
    ],
)
def test_factors_agree_with_scipys(unit: str, to: str, theirs: float) -> None:
    """scipy.constants, in floats."""
    assert float(factor(unit, to)) == pytest.approx(theirs, rel=1e-14)


def test_a_millimetre_of_mercury_is_not_a_torr() -> None:
    """NIST SP 811 B.8 (memory): 133.3224 Pa for both, which differ in the seventh; pint
    has the conventional millimetre of mercury, scipy.constants.mmHg is the torr (atm/760)."""
    ours = float(factor("mmHg", "Pa"))
    assert ours == pytest.approx(133.322387415, rel=1e-12)
    assert codata.mmHg == pytest.approx(101325 / 760, rel=1e-14)
    assert abs(ours / codata.mmHg - 1) == pytest.approx(1.4e-7, rel=0.05)


@pytest.mark.parametrize(
    ("value", "places", "expected"),
    [
        ("6.9749515", 2, "6.97"),
        ("6.9749515", 1, "7.0"),
        ("6.9749515", 4, "6.9750"),
        ("6.9749515", 6, "6.974952"),
        ("6.9749505", 6, "6.974950"),
    ],
)
def test_ru_01_rounding_to_digits_ties_to_even(value: str, places: int, expected: str) -> None:
    """NIST SP 811 B.7.1 (memory): to 3, 2, 5, 7 digits; then a tie that goes to even."""
    assert text(Decimal(value), places) == expected


@pytest.mark.parametrize(
    ("value", "places", "expected"),
    [("60.25132", 1, "60.3"), ("1.2459", 2, "1.25"), ("14.895", 1, "14.9"), ("1.25", 1, "1.2")],
)
def test_ru_02_rounding_examples(value: str, places: int, expected: str) -> None:
    """armymunitions.tpub.com Mm04409 p. 147 (seen); 1.25 leaves an even digit (encyclopedia text
    at when.com, seen)."""
    assert text(Decimal(value), places) == expected


@pytest.mark.parametrize(
    ("unit", "to", "expected"),
    [("lbf·ft", "N·m", "1.3558179483314004"), ("in", "mm", "25.4"), ("kgf·m", "N·m", "9.80665")],
)
def test_ru_03_exact_torque_and_length_factors(unit: str, to: str, expected: str) -> None:
    """Exact definitions (seen in pint 0.25.3 default_en.txt); 1.355 818 in NIST SP 811 B.8
    (memory)."""
    assert factor(unit, to) == Fraction(expected)
    assert text(convert(Decimal(1), unit, to)) == expected


@pytest.mark.parametrize(
    ("unit", "to", "printed"),
    [
        ("lbf·in", "N·m", "0.112985"),
        ("lbf", "N", "4.44822"),
        ("psi", "kPa", "6.894757"),
        ("in³", "mm³", "16387.1"),
    ],
)
def test_ru_04_printed_factors(unit: str, to: str, printed: str) -> None:
    """navalfacilities.tpub.com 1004_60046 (UFC appendix B); brassmein.com for psi (seen)."""
    places = len(printed.partition(".")[2])
    assert text(factor(unit, to), places) == printed


def test_ru_05_mil_is_refused_because_libraries_disagree(registry: Any) -> None:
    """pint 0.25.3 default_en.txt: mil is an angle, thou is 25.4 µm; scipy.constants.mil is
    2.54e-5 m (seen). So the word is refused here, and thou accepted."""
    assert registry.Unit("mil").dimensionless
    assert registry.convert(Fraction(1), "mil", "turn") == Fraction(1, 64_000)
    assert registry.convert(Fraction(1), "thou", "micrometer") == Fraction("25.4")
    assert codata.mil == pytest.approx(2.54e-5, rel=1e-15)
    assert factor("thou", "µm") == Fraction("25.4")
    with pytest.raises(UnitError, match="write thou or mm"):
        unit_name("mil")


@pytest.mark.parametrize(
    ("value", "unit", "printed"),
    [
        ("1", "ozf·in", "0.0070615518"),
        ("1", "kgf·cm", "0.0980665"),
        ("1", "dyn·cm", "0.0000001"),
        ("73", "lbf·ft", "99"),
        ("65", "lbf·ft", "88.128"),
    ],
)
def test_ru_06_more_torque_factors(value: str, unit: str, printed: str) -> None:
    """pint 0.25.3; tpub.com TM-5-3895-370-14P_907 prints 73 lb-ft (99 Nm) (seen); the last is
    ours."""
    places = len(printed.partition(".")[2])
    assert text(convert(Decimal(value), unit, "N·m"), places) == printed


def test_ru_07_an_inch_reading_of_a_millimetre_bore_is_recognised_by_its_size() -> None:
    """Limits 87.20–87.25 mm: TM-10-3930-653-14P_61 (limits seen, readings ours)."""
    bore = gate(Limits(Decimal("87.20"), Decimal("87.25")), Decision(Rule.SIMPLE), Decimal(0))

    def fits(digits: str) -> tuple[bool, bool]:
        value = Decimal(digits)
        as_inches = convert(value, "in", "mm")
        return (
            bore.judge(value) is Result.CONFORMING,
            bore.judge(as_inches) is Result.CONFORMING,
        )

    assert convert(Decimal("3.4340"), "in", "mm") == Decimal("87.2236")
    assert fits("3.4340") == (False, True)
    assert fits("87.22") == (True, False)
    assert fits("34.340") == (False, False)


@pytest.mark.parametrize(
    ("inches", "exact_mm", "printed"),
    [
        ("0.006", "0.1524", "0.15"),
        ("0.013", "0.3302", "0.33"),
        ("0.026", "0.6604", "0.66"),
        ("0.005", "0.127", "0.127"),
        ("0.012", "0.3048", "0.305"),
        ("0.020", "0.508", "0.508"),
    ],
)
def test_cl_05_and_cl_07_printed_limits_in_both_units(
    inches: str, exact_mm: str, printed: str
) -> None:
    """Crank end clearance: tpub.com TM-5-6115-593-34_21. Rod side clearance: tpub.com
    TM-5-4310-354-140268. Both columns seen."""
    converted = convert(Decimal(inches), "in", "mm")
    assert converted == Decimal(exact_mm)
    assert text(converted, len(printed.partition(".")[2])) == printed


# US Army technical manuals, tpub.com, pages named; both unit columns as printed (seen).
PRINTED_LIMITS = """
rod big-end play new           0.0067 0.17   TM-10-3930-653-14P_61
rod big-end play new           0.0118 0.3    TM-10-3930-653-14P_61
rod big-end play wear limit    0.0157 0.4    TM-10-3930-653-14P_61
piston diameter service        3.4317 87.165 TM-10-3930-653-14P_61
piston diameter service        3.4337 87.215 TM-10-3930-653-14P_61
cylinder bore                  3.4331 87.2   TM-10-3930-653-14P_61
cylinder bore                  3.435  87.25  TM-10-3930-653-14P_61
piston to bore clearance       0.001  0.025  TM-10-3930-653-14P_61
piston to bore clearance       0.0018 0.045  TM-10-3930-653-14P_61
top ring to groove             0.0016 0.04   TM-10-3930-653-14P_61
top ring to groove             0.0029 0.073  TM-10-3930-653-14P_61
top ring end gap               0.0098 0.25   TM-10-3930-653-14P_61
top ring end gap               0.0157 0.4    TM-10-3930-653-14P_61
second ring end gap            0.0059 0.15   TM-10-3930-653-14P_61
second ring end gap            0.0118 0.3    TM-10-3930-653-14P_61
rod side clearance new         0.005  0.127  TM-5-4310-354-140268
rod side clearance new         0.012  0.305  TM-5-4310-354-140268
rod side clearance maximum     0.02   0.508  TM-5-4310-354-140268
rod bearing clearance new      0.001  0.0254 TM-5-4310-354-140268
rod bearing clearance new      0.003  0.0762 TM-5-4310-354-140268
rod bearing clearance maximum  0.005  0.127  TM-5-4310-354-140268
crank end clearance new        0.006  0.15   TM-5-6115-593-34_21
crank end clearance new        0.013  0.33   TM-5-6115-593-34_21
crank end clearance worn       0.026  0.66   TM-5-6115-593-34_21
crank journal                  2.715  68.961 TM-5-3895-370-14P_907
crank journal                  2.717  69.012 TM-5-3895-370-14P_907
rod bearing clearance maximum  0.0035 0.0889 TM-5-3895-370-14P_907
top ring gap                   0.016  0.4064 TM-5-3895-370-14P_907
top ring gap                   0.0275 0.6985 TM-5-3895-370-14P_907
oil ring gap                   0.01   0.254  TM-5-3895-370-14P_907
oil ring gap                   0.0215 0.5461 TM-5-3895-370-14P_907
""".strip().splitlines()


@pytest.mark.parametrize("line", PRINTED_LIMITS)
def test_cl_06_printed_pairs_agree_within_the_rounding_of_both_columns(line: str) -> None:
    inches, millimetres, _ = line.rsplit(maxsplit=3)[1:]

    def half_step(digits: str) -> Fraction:
        return Fraction(1, 2 * 10 ** len(digits.partition(".")[2]))

    apart = abs(Fraction(convert(Decimal(inches), "in", "mm")) - Fraction(millimetres))
    rounding = half_step(inches) * factor("in", "mm") + half_step(millimetres)
    assert apart <= rounding


@pytest.mark.parametrize(
    ("rate", "size", "limit"),
    [
        ("0.001", "4.000", "0.004"),  # BJ-03: wear per inch of bore
        ("0.0005", "4.500", "0.00225"),  # BJ-03: taper per inch of piston travel
        ("0.0004", "2.750", "0.0011"),  # BJ-03: main-journal out-of-round per inch
        ("0.00075", "2.000", "0.0015"),  # CL-01: least oil clearance per inch of shaft
        ("0.0010", "2.000", "0.002"),  # CL-01: greatest
        ("0.004", "4.00", "0.016"),  # CL-04: top-ring end gap, street
        ("0.007", "4.00", "0.028"),  # CL-04: top-ring end gap, racing with blower
    ],
)
def test_bj_03_cl_01_cl_04_a_rate_per_inch_gives_the_same_limit_in_either_unit(
    rate: str, size: str, limit: str
) -> None:
    """BJ-03: tpub.com TM-10-3930-647-14-P0175. CL-01: a bearing clearance guide. CL-04: a ring-gap
    table quoted in a forum post. (Rates and limits seen.) A rate has no unit: applied to the size
    in millimetres it must give the printed inch limit, converted."""
    size_mm = convert(Decimal(size), "in", "mm")
    in_mm = Fraction(rate) * Fraction(size_mm)
    assert convert(in_mm, "mm", "in") == Decimal(limit)
