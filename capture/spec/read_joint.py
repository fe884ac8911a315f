"""Reads ``joint``: what an estimate of preload needs to know of a fastener, all in mm and MPa."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from capture.quantity import Number, convert, exact
from capture.spec.model import Joint
from capture.spec.table import Table

KEYS = (
    "unit",
    "diameter",
    "pitch",
    "threads_per_inch",
    "series",
    "nut_factor",
    "friction_thread",
    "friction_head",
    "bearing_diameter",
    "scatter_percent",
    "proof_stress",
    "stress_unit",
    "clamped_length",
    "elastic_modulus",
)
_FRICTION = ("friction_thread", "friction_head", "bearing_diameter")


class Length(StrEnum):
    """Units the lengths of a joint may be written in."""

    MM = "mm"
    IN = "in"


class Stress(StrEnum):
    """Units the stresses of a joint may be written in."""

    MPA = "MPa"
    PSI = "psi"
    KSI = "ksi"


class Series(StrEnum):
    """Thread forms: metric (ISO 68-1) and unified."""

    METRIC = "metric"
    UNIFIED = "unified"


def read_joint(table: Table) -> Joint | None:
    """The joint of a group of fasteners; None where the file is silent."""
    written = table.table("joint", KEYS)
    if written is None:
        return None
    length, stress = (
        written.choice("unit", Length, Length.MM),
        written.choice("stress_unit", Stress, Stress.MPA),
    )
    by_threads = "threads_per_inch" in written
    default = Series.UNIFIED if by_threads else Series.METRIC
    joint = Joint(
        diameter=_millimetres(_positive(written, "diameter"), length),
        pitch=_pitch(written, length),
        series=written.choice("series", Series, default).value,
        nut_factor=_share(written, "nut_factor"),
        friction_thread=_share(written, "friction_thread"),
        friction_head=_share(written, "friction_head"),
        bearing_diameter=_optional_length(written, "bearing_diameter", length),
        scatter_percent=_percent(written),
        proof_stress=_stress(written, "proof_stress", stress),
        clamped_length=_optional_length(written, "clamped_length", length),
        elastic_modulus=_stress(written, "elastic_modulus", stress),
    )
    if written.sound:
        _together(written, joint)
    if not written.sound:
        table.sound = False
    return joint


def _positive(table: Table, key: str) -> Decimal:
    value = table.number(key)
    if value <= 0 and key in table and table.sound:
        table.problem(key, f"{key} is {value:f}", "write more than 0")
    return value


def _millimetres(value: Decimal, unit: Length) -> Decimal:
    found = convert(value, unit.value, "mm")
    assert isinstance(found, Decimal)  # an inch has an ending number of millimetres
    return found


def _optional_length(table: Table, key: str, unit: Length) -> Decimal | None:
    return _millimetres(_positive(table, key), unit) if key in table else None


def _pitch(table: Table, unit: Length) -> Number:
    if "threads_per_inch" not in table:
        return _millimetres(_positive(table, "pitch"), unit)
    if "pitch" in table:
        message = "pitch and threads_per_inch both state the pitch"
        table.problem("threads_per_inch", message, "keep one of the two")
    count = _positive(table, "threads_per_inch")
    return exact(Fraction("25.4") / Fraction(count)) if count > 0 else Decimal(1)


def _stress(table: Table, key: str, unit: Stress) -> Number | None:
    if key not in table:
        return None
    value = _positive(table, key)
    if unit is Stress.KSI:
        return convert(value * 1000, "psi", "MPa")
    return convert(value, unit.value, "MPa")


def _share(table: Table, key: str) -> Decimal | None:
    """A factor between 0 and 1, as friction and nut factors are."""
    if key not in table:
        return None
    value = table.number(key)
    if table.sound and not 0 < value < 1:
        table.problem(
            key, f"{key} {value:f} is out of range", 'write it between 0 and 1, as "0.15"'
        )
    return value


def _percent(table: Table) -> Decimal | None:
    if "scatter_percent" not in table:
        return None
    value = table.number("scatter_percent")
    if table.sound and not 0 < value < 100:
        message = f"{value:f} % is out of range"
        table.problem("scatter_percent", message, 'write more than 0, as "25"')
    return value


def _together(table: Table, joint: Joint) -> None:
    """What is only of use together, and whether anything can be estimated at all."""
    if joint.pitch >= joint.diameter:
        message = f"the pitch is not less than the diameter ({joint.diameter.normalize():f} mm)"
        key = "threads_per_inch" if "threads_per_inch" in table else "pitch"
        table.problem(key, message, "check the units: unit is of all lengths of the joint")
    bearing = joint.bearing_diameter
    if bearing is not None and bearing <= joint.diameter:
        message = "the mean diameter under the head is not more than the thread's"
        table.problem("bearing_diameter", message, "correct one of the two")
    named = [key for key in _FRICTION if key in table]
    if named and len(named) < len(_FRICTION):
        missing = next(key for key in _FRICTION if key not in table)
        message = f"{named[0]} alone gives no preload: {missing} is missing"
        table.problem(named[0], message, f"add {missing}, or estimate by nut_factor")
    by_torque = joint.nut_factor is not None or bool(named)
    by_stretch = joint.clamped_length is not None and joint.elastic_modulus is not None
    if not by_torque and not by_stretch:
        message = "nothing says how preload follows from torque or from stretch"
        mend = "add nut_factor, or all friction keys, or clamped_length and elastic_modulus"
        table.problem("", message, mend)
    elif by_torque and joint.scatter_percent is None:
        message = "an estimate of preload from torque always carries its scatter"
        table.problem("scatter_percent", message, 'add scatter_percent = "…" for this lubricant')
