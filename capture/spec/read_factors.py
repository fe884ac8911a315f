"""Reads limits that follow from another measured size: a ring gap by the bore of its cylinder.

Such a characteristic has no limits of its own until the other size is measured. Its ``limits`` in
the spec are the widest they can become (factor times the plausible band of that other size,
rounded outwards at the twelfth decimal where they do not end), and its plausible band, where the
file is silent, is worked out from those.
"""

from __future__ import annotations

from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal, localcontext
from fractions import Fraction
from typing import Final

from capture.quantity import factor
from capture.spec.limits import SIZE_KEYS, UNLIMITED, measures
from capture.spec.model import Characteristic, Derived, Factors, Limits, Quantity
from capture.spec.plausible import KEYS as BAND_KEYS
from capture.spec.plausible import own, plausible, silent
from capture.spec.table import Table

FACTOR_KEYS = ("lower_limit_factor", "upper_limit_factor", "factor_of")
_FINEST: Final = Decimal("1e-12")


def by_factor(table: Table) -> bool:
    """Whether the table states limits by factor, or begins to."""
    return any(key in table for key in FACTOR_KEYS)


def read_factors(table: Table) -> Factors:
    """The factors as stated; the size they refer to may stand further down in the file."""
    for key in SIZE_KEYS:
        if key in table and key != "nominal_size":
            message = f"{key} states a limit, and so do the factors"
            table.problem(key, message, "keep limits of size, or keep factors")
            break
    lower = table.optional_number("lower_limit_factor")
    upper = table.optional_number("upper_limit_factor")
    if lower is None and upper is None and table.sound:
        mend = 'write lower_limit_factor = "…", upper_limit_factor = "…", or both'
        table.problem("factor_of", "there is no factor: nothing has a default limit", mend)
    for key, value in zip(FACTOR_KEYS, (lower, upper), strict=False):
        if value is not None and value < 0:
            table.problem(key, f"the factor {value:f} is negative", "write zero or more")
    if lower is not None and upper is not None and lower > upper:
        message = f"the lower factor {lower:f} is above the upper factor {upper:f}"
        table.problem(FACTOR_KEYS[0], message, "exchange the two, or correct the one that is wrong")
    return Factors(table.word("factor_of"), lower, upper)


def source_band(
    source: Characteristic | Derived, sizes: dict[str, Characteristic]
) -> Limits | None:
    """Between which values a source can lie, in its unit; None where nothing tells."""
    if isinstance(source, Characteristic):
        return source.plausible
    if source.quantity is Quantity.MEAN and source.of[0] in sizes:
        one = sizes[source.of[0]]
        return _converted(one.plausible, one.unit, source.unit)
    if source.limits.lower is None or source.limits.upper is None:
        return None
    return silent(source.limits, source.unit)


def settled(
    table: Table, factors: Factors, unit: str, source: Characteristic | Derived, band: Limits
) -> tuple[Limits, Limits]:
    """The widest limits, and the plausible band, of a size in ``unit`` with these factors.

    ``band`` is where the source can lie, in its unit.
    """
    if measures(unit) != measures(source.unit) or measures(unit) == "temperature":
        message = f'"{source.id}" is in {source.unit}, which gives no limit in {unit}'
        table.problem("factor_of", message, f"name a size in {unit}")
        return UNLIMITED, UNLIMITED
    scale = factor(source.unit, unit)
    widest = Limits(
        _product(factors.lower, band.lower, scale, ROUND_FLOOR),
        _product(factors.upper, band.upper, scale, ROUND_CEILING),
    )
    if table.table("plausible", BAND_KEYS) is None:
        return widest, plausible(table, widest, None, unit)
    usual = source.limits
    inside = [
        _product(factors.lower, usual.lower, scale, ROUND_FLOOR),
        _product(factors.upper, usual.upper, scale, ROUND_CEILING),
    ]
    return widest, own(table, [one for one in inside if one is not None], "")


def _product(
    share: Decimal | None, size: Decimal | None, scale: Fraction, rounding: str
) -> Decimal | None:
    if share is None or size is None:
        return None
    return _ended(Fraction(share) * Fraction(size) * scale, rounding)


def _converted(band: Limits, unit: str, to: str) -> Limits:
    if unit == to:
        return band
    scale = factor(unit, to)
    return Limits(
        _product(Decimal(1), band.lower, scale, ROUND_FLOOR),
        _product(Decimal(1), band.upper, scale, ROUND_CEILING),
    )


def _ended(value: Fraction, rounding: str) -> Decimal:
    """``value`` to twelve decimals, outwards where it does not end there."""
    with localcontext() as context:
        context.prec = 80
        context.rounding = rounding
        quotient = Decimal(value.numerator) / Decimal(value.denominator)
        ended = quotient.quantize(_FINEST, rounding).normalize()
        return ended if ended else Decimal(0)
