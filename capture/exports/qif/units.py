"""Units in a QIF document: millimetre, degree and degree Celsius first; others declared.

A length, an angle and a temperature have types of their own there, with their conversion to the SI
(S = (X + offset) × factor). Torques, volumes and the like are user-defined units, which QIF names
without a conversion.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Final, NamedTuple

from capture.errors import UnitError
from capture.exports.qif.markup import counted, element, said
from capture.quantity import dimension
from capture.quantity import text as digits
from capture.units import SIZES, TEMPERATURES


class Sort(NamedTuple):
    """How the characteristics and values of one dimension are called."""

    name: str
    """Before ``CharacteristicDefinition``, ``CharacteristicNominal``…"""
    attribute: str
    """The attribute of a value that names its unit."""


LINEAR: Final = Sort("UserDefinedLinear", "linearUnit")
ANGULAR: Final = Sort("UserDefinedAngular", "angularUnit")
TEMPERATURE: Final = Sort("UserDefinedTemperature", "temperatureUnit")
OTHER: Final = Sort("UserDefinedUnit", "unitName")

SORTS: Final = {"length": LINEAR, "angle": ANGULAR, "temperature": TEMPERATURE}
PRIMARY: Final = ("°", "mm", "°C")
"""In the schema's order."""

_ELEMENTS: Final = {
    "angle": ("AngularUnit", "radian"),
    "length": ("LinearUnit", "meter"),
    "temperature": ("TemperatureUnit", "kelvin"),
}
_DEGREE: Final = "0.0174532925199432957692"
"""π/180 to 21 digits."""


def sort_of(unit: str) -> Sort:
    """How what is measured in ``unit`` is called."""
    return SORTS.get(measures(unit), OTHER)


def measures(unit: str) -> str:
    """What ``unit`` measures, in a word."""
    try:
        return dimension(unit)
    except UnitError:
        return "quantity"


def file_units(used: set[str]) -> str:
    """``FileUnits`` with every unit used."""
    others = [
        declared(unit)
        for kind in _ELEMENTS
        for unit in sorted(used - set(PRIMARY))
        if measures(unit) == kind
    ]
    own = [
        element(
            "UserDefinedUnit",
            said("WhatIsMeasured", measures(unit)),
            said("UnitName", unit),
        )
        for unit in sorted(used)
        if sort_of(unit) is OTHER
    ]
    return element(
        "FileUnits",
        element("PrimaryUnits", *map(declared, PRIMARY)),
        counted("OtherUnits", others),
        counted("UserDefinedUnits", own),
    )


def declared(unit: str) -> str:
    """A unit of length, angle or temperature with its conversion to the SI."""
    kind = measures(unit)
    name, si = _ELEMENTS[kind]
    factor, offset = _conversion(unit, kind)
    conversion = [said("Factor", factor)]
    if offset != "0":
        conversion.append(said("Offset", offset))
    return element(
        name,
        said("SIUnitName", si),
        said("UnitName", unit),
        element("UnitConversion", *conversion),
    )


def _conversion(unit: str, kind: str) -> tuple[str, str]:
    if kind == "temperature":
        scale, offset = TEMPERATURES[unit]
        return digits(scale), digits(offset / scale)
    if unit in ("rad", "mrad"):
        return ("1" if unit == "rad" else "0.001"), "0"
    size = SIZES[kind][unit]
    if kind == "length":
        return digits(size / 1000), "0"
    return digits(Fraction(_DEGREE) * size, 21), "0"
