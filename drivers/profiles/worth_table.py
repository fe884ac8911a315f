"""What one count is worth: ``places``, ``scale``, ``counts_per_unit``, ``resolution`` and
``by_unit`` of a ``[decode]`` table."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from drivers.decoding.message import known_unit
from drivers.decoding.worth import (
    FARTHEST,
    MOST_PLACES,
    Worth,
    Worths,
    decimal_places,
    scaled,
)
from drivers.profiles.decode_table import check_unit
from drivers.toml_file import Table, as_decimal

_MEND = 'write a number in quotes, like "0.0005", or a ratio of two, like "25.4/20480".'
_WAYS = ("places", "scale", "counts_per_unit")


def read_worths(table: Table, *, sent: str | None = None, rounding: bool = False) -> Worths:
    """The worths of a ``[decode]`` table.

    ``sent``: the key by which the message itself says the power of ten, if it does. ``rounding``:
    a resolution is needed, for every unit.
    """
    inner = table.table("by_unit")
    by_unit: dict[str, Worth] = {}
    for name in inner.keys() if inner is not None else ():
        assert inner is not None
        check_unit(inner, name, name)
        one = inner.table(name)
        if one is not None:
            by_unit[known_unit(name)] = _worth(one, sent, rounding)
            one.close()
    # by_unit may say everything: then there is no base to round
    return Worths(_worth(table, sent, rounding and not by_unit), by_unit)


def _worth(table: Table, sent: str | None, rounding: bool) -> Worth:
    said_by_byte = sent == "places" and isinstance(table.raw("places"), dict)
    places = None if said_by_byte else table.integer("places", None, 0, MOST_PLACES)
    worth = _factor(table)
    resolution = _resolution(table)
    named = [key for key in _WAYS if key in table]
    for key in named:
        if sent is not None and not (said_by_byte and key == "places"):
            table.problem(key, f"the {sent} already says it.", "take one of the two away.")
    if sent is None and len(named) > 1:
        mend = f"keep one of {' and '.join(named)}."
        table.problem(named[1], f"{named[0]} already says it.", mend)
    if resolution is None and rounding:
        if "resolution" not in table:
            mend = 'write the step of the display, like resolution = "0.01".'
            table.problem("resolution", "is missing: a float's own digits never end.", mend)
        resolution = Decimal(1)
    if worth is None:
        return Worth(places, resolution=resolution)
    needed = decimal_places(worth.factor or Fraction(1))
    if resolution is None and (needed is None or needed > MOST_PLACES):
        if "resolution" not in table:
            key = "scale" if "scale" in table else "counts_per_unit"
            mend = 'add the step to round to, like resolution = "0.01".'
            table.problem(key, "its digits never end.", mend)
        resolution = Decimal(1)
    return Worth(None, worth.factor, worth.factor_places, resolution)


def _factor(table: Table) -> Worth | None:
    scale, counts = _ratio(table, "scale"), _ratio(table, "counts_per_unit")
    if scale is not None:
        plain = as_decimal(table.raw("scale"))
        return scaled(plain) if plain is not None else _exact(scale)
    return None if counts is None else _exact(1 / counts)


def _exact(factor: Fraction) -> Worth:
    return Worth(factor=factor, factor_places=decimal_places(factor) or 0)


def _ratio(table: Table, key: str) -> Fraction | None:
    """A number above nothing, or a ratio of two."""
    value = table.raw(key)
    if value is None:
        return None
    if not isinstance(value, str) or "/" not in value:
        number = table.decimal(key, None, above="0")
        return None if number is None else _near_one(table, key, number, Decimal(1))
    over, _, under = value.partition("/")
    parts = as_decimal(over.strip()), as_decimal(under.strip())
    if parts[0] is None or parts[1] is None or parts[0] <= 0 or parts[1] <= 0:
        table.problem(key, f"{value!r} is no ratio of two numbers above 0.", _MEND)
        return None
    return _near_one(table, key, parts[0], parts[1])


def _near_one(table: Table, key: str, over: Decimal, under: Decimal) -> Fraction | None:
    """The ratio, unless it is out of all bounds."""
    for number in (over, under):
        if abs(number.adjusted()) > MOST_PLACES or len(number.as_tuple().digits) > FARTHEST:
            table.problem(key, f"{number} is out of all bounds.", _MEND)
            return None
    return Fraction(over) / Fraction(under)


def _resolution(table: Table) -> Decimal | None:
    value = table.decimal("resolution", None, above="0")
    if value is not None and _near_one(table, "resolution", value, Decimal(1)) is None:
        return None
    return value
