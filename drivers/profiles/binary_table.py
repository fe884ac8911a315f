"""The ``[decode]`` table of a profile whose messages are packed decimals or integers."""

from __future__ import annotations

from drivers.decoding.bcd import BcdDecoding
from drivers.decoding.binary import Bit, Choice, Span, Surroundings
from drivers.decoding.integer import IntegerDecoding
from drivers.decoding.message import known_unit
from drivers.profiles.decode_table import check_unit
from drivers.toml_file import Table

LAST = 4095
"""The highest byte number."""


def read_bcd(table: Table) -> BcdDecoding | None:
    """The decoding of packed decimals; None, with problems noted, where no number is named."""
    table.required("number")
    number = _span(table, "number", 8)
    places, places_at, most = 0, None, 0
    if isinstance(table.raw("places"), dict):
        inner = table.table("places")
        assert inner is not None
        inner.required("at", "max")
        places_at = inner.integer("at", None, 0, LAST)
        most = inner.integer("max", 0, 0, 18)
        inner.close()
    else:
        places = table.integer("places", 0, 0, 18)
    negative = _bit(table, "negative")
    sign_nibble = table.flag("sign_nibble", False)
    not_known, says = _not_known_bit(table)
    around = _surroundings(table)
    if number is None:
        return None
    return BcdDecoding(
        number=number,
        length=_length(around, number, places_at, negative, not_known),
        places=places,
        places_at=places_at,
        places_max=most,
        negative=negative,
        sign_nibble=sign_nibble,
        not_known=not_known,
        not_known_says=says,
        surroundings=around,
    )


def read_integer(table: Table) -> IntegerDecoding | None:
    """The decoding of integers; None, with problems noted, where no number is named."""
    table.required("number")
    number = _span(table, "number", 8)
    exponent, low, high = None, -18, 18
    inner = table.table("exponent")
    if inner is not None:
        inner.required("at")
        low = inner.integer("min", -18, -30, 30)
        high = inner.integer("max", 18, -30, 30)
        at = inner.integer("at", None, 0, LAST)
        exponent = None if at is None else Span(at, 1, signed=True)
        inner.close()
    scale = table.decimal("scale", None, above="0")
    for key in ("scale", "places"):
        if key in table and exponent is not None:
            table.problem(key, "the exponent already says it.", "take one of the two away.")
    specials, bit, says = _not_known_values(table)
    negative = _bit(table, "negative")
    around = _surroundings(table)
    places = table.integer("places", 0, 0, 18)
    if number is None:
        return None
    return IntegerDecoding(
        number=number,
        length=_length(around, number, exponent, negative, bit),
        places=places,
        scale=scale,
        exponent=exponent,
        exponent_range=(low, high),
        negative=negative,
        not_known=specials,
        not_known_bit=bit,
        not_known_says=says,
        surroundings=around,
    )


def _span(table: Table, key: str, most: int) -> Span | None:
    inner = table.table(key)
    if inner is None:
        return None
    inner.required("at")
    at = inner.integer("at", None, 0, LAST)
    count = inner.integer("bytes", 1, 1, most)
    order = inner.choice("order", "big", ("big", "little"))
    signed = inner.flag("signed", False)
    inner.close()
    return None if at is None else Span(at, count, order, signed)


def _bit(table: Table, key: str) -> Bit | None:
    inner = table.table(key)
    if inner is None:
        return None
    inner.required("at", "bit")
    at, bit = inner.integer("at", None, 0, LAST), inner.integer("bit", None, 0, 7)
    inner.close()
    return None if at is None or bit is None else Bit(at, bit)


def _not_known_bit(table: Table) -> tuple[Bit | None, str]:
    inner = table.table("not_known")
    if inner is None:
        return None, ""
    inner.required("at", "bit", "says")
    at, bit = inner.integer("at", None, 0, LAST), inner.integer("bit", None, 0, 7)
    says = inner.text("says", "no value")
    inner.close()
    return (None if at is None or bit is None else Bit(at, bit)), says


def _not_known_values(table: Table) -> tuple[tuple[tuple[int, str], ...], Bit | None, str]:
    value = table.raw("not_known")
    if not (isinstance(value, dict) and "value" in value):
        bit, says = _not_known_bit(table)
        return (), bit, says
    inner = table.table("not_known")
    assert inner is not None
    inner.required("says")
    special = inner.integer("value", 0, -(2**63), 2**64)
    says = inner.text("says", "no value")
    inner.close()
    return ((special, says),), None, ""


def _surroundings(table: Table) -> Surroundings:
    return Surroundings(_unit(table), _flags(table), _span(table, "channel", 2))


def _unit(table: Table) -> Choice | None:
    inner = table.table("unit")
    if inner is None:
        return None
    inner.required("at", "values")
    at, mask = inner.integer("at", None, 0, LAST), inner.integer("mask", 0xFF, 1, 0xFF)
    values = _numbered(inner, "values", 0xFF)
    for name in values.values():
        check_unit(inner, "values", name)
    inner.close()
    names = {value: known_unit(name) for value, name in values.items()}
    return None if at is None else Choice(at, names, mask)


def _flags(table: Table) -> tuple[tuple[Bit, str], ...]:
    inner = table.table("flags")
    if inner is None:
        return ()
    inner.required("at", "bits")
    at = inner.integer("at", None, 0, LAST)
    bits = _numbered(inner, "bits", 7)
    inner.close()
    return () if at is None else tuple((Bit(at, bit), flag) for bit, flag in bits.items())


def _numbered(table: Table, key: str, highest: int) -> dict[int, str]:
    """A table whose keys are numbers; ``0x1F`` is one too."""
    found: dict[int, str] = {}
    for name, word in table.texts(key).items():
        try:
            number = int(name, 0)
        except ValueError:
            number = -1
        if 0 <= number <= highest:
            found[number] = word
        else:
            mend = f"write a number from 0 to {highest}, like 0 or 0x02."
            table.problem(key, f"{name!r} is no number from 0 to {highest}.", mend)
    return found


def _length(around: Surroundings, *read: Span | Bit | int | None) -> int:
    """Bytes a message must have for every byte the profile reads to be in it."""
    unit_at = around.unit.at if around.unit else None
    spots = [unit_at, around.channel, *(bit for bit, _ in around.flags)]
    return 1 + max(_last(spot) for spot in (*read, *spots))


def _last(spot: Span | Bit | int | None) -> int:
    """The number of the last byte of what is read."""
    if isinstance(spot, Span):
        return spot.at + spot.count - 1
    if isinstance(spot, Bit):
        return spot.at
    return spot or 0
