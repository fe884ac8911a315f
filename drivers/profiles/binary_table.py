"""The ``[decode]`` table of a profile whose messages are decimal digits, integers or floats."""

from __future__ import annotations

from typing import Literal, NamedTuple

from drivers.decoding.bcd import BcdDecoding
from drivers.decoding.binary import Always, Bit, Choice, SignByte, Span, Surroundings
from drivers.decoding.floating import FloatDecoding
from drivers.decoding.integer import IntegerDecoding
from drivers.decoding.message import known_unit
from drivers.decoding.worth import Worths
from drivers.profiles.decode_table import check_unit, fixed_unit
from drivers.profiles.worth_table import read_worths
from drivers.toml_file import Table

LAST = 4095
"""The highest byte number."""


def read_bcd(table: Table) -> BcdDecoding | None:
    """The decoding of decimal digits; None, with problems noted, where no number is named."""
    table.required("number")
    number, halves = _decimal_span(table)
    power = _power(table)
    nibbles: tuple[object, ...] = (True, False, "first", "last")
    mend = 'write true (the last half byte), "last" or "first".'
    sign_nibble = table.raw("sign_nibble") or False
    if sign_nibble not in nibbles:
        table.problem("sign_nibble", f"{sign_nibble!r} is none of these.", mend)
        sign_nibble = False
    signs = _signs(table, bool(sign_nibble), "sign_nibble")
    not_known, says = _not_known_bit(table)
    around = _surroundings(table)
    worths = read_worths(table, sent=power.sent)
    if number is None:
        return None
    return BcdDecoding(
        number=number,
        length=_length(around, number, power.places_at, power.exponent, *signs, not_known),
        places=worths.base.places or 0,
        places_at=power.places_at,
        places_max=power.places_max,
        negative=signs[0],
        sign_nibble=sign_nibble,
        not_known=not_known,
        not_known_says=says,
        surroundings=around,
        worths=worths,
        exponent=power.exponent,
        exponent_range=power.bounds,
        sign=signs[1],
        digits_per_byte=halves.per_byte,
        low_half_first=halves.low_first,
        skip=halves.skip,
    )


def read_integer(table: Table) -> IntegerDecoding | None:
    """The decoding of integers; None, with problems noted, where no number is named."""
    table.required("number")
    number = _span(table, "number", 8)
    power = _power(table)
    specials, bit, says = _not_known_values(table)
    signs = _signs(table, number is not None and number.signed, "signed")
    around = _surroundings(table)
    worths = read_worths(table, sent=power.sent)
    if number is None:
        return None
    return IntegerDecoding(
        number=number,
        length=_length(around, number, power.places_at, power.exponent, *signs, bit),
        places=worths.base.places or 0,
        exponent=power.exponent,
        exponent_range=power.bounds,
        negative=signs[0],
        not_known=specials,
        not_known_bit=bit,
        not_known_says=says,
        surroundings=around,
        worths=worths,
        places_at=power.places_at,
        places_max=power.places_max,
        sign=signs[1],
    )


def read_float(table: Table) -> FloatDecoding | None:
    """The decoding of floats; None, with problems noted, where no number is named."""
    table.required("number")
    number = _span(table, "number", 8, plain=True)
    if number is not None and number.count not in (4, 8):
        table.problem("number", f"a float has no {number.count} bytes.", "write bytes = 4, or 8.")
    signs = _signs(table, False, "")
    not_known, says = _not_known_bit(table)
    around = _surroundings(table)
    worths = read_worths(table, rounding=True)
    if worths.by_unit and worths.base.resolution is None:
        _every_unit(table, around, worths)
    if number is None:
        return None
    return FloatDecoding(
        number=number,
        length=_length(around, number, *signs, not_known),
        worths=worths,
        negative=signs[0],
        sign=signs[1],
        not_known=not_known,
        not_known_says=says,
        surroundings=around,
    )


def _every_unit(table: Table, around: Surroundings, worths: Worths) -> None:
    """Notes units of the message that floats would have no resolution in."""
    sent = set(around.unit_names.values())
    units = sent or ({around.fixed_unit} if around.fixed_unit else {""})
    for unit in sorted(units - set(worths.by_unit)):
        mend = 'write resolution = "0.01" for all, or one for each unit in by_unit.'
        table.problem("by_unit", f"there is no resolution for {unit or 'sizes of no unit'}.", mend)


class _Power(NamedTuple):
    """The power of ten that stands in the message."""

    sent: str | None
    """The key that says it."""
    places_at: int | None = None
    places_max: int = 0
    exponent: Span | None = None
    bounds: tuple[int, int] = (-18, 18)


def _power(table: Table) -> _Power:
    inner = table.table("exponent")
    if inner is not None:
        inner.required("at")
        low = inner.integer("min", -18, -30, 30)
        high = inner.integer("max", 18, -30, 30)
        at = inner.integer("at", None, 0, LAST)
        inner.close()
        exponent = None if at is None else Span(at, 1, signed=True)
        return _Power("exponent", exponent=exponent, bounds=(low, high))
    if not isinstance(table.raw("places"), dict):
        return _Power(None)
    inner = table.table("places")
    assert inner is not None
    inner.required("at", "max")
    places_at = inner.integer("at", None, 0, LAST)
    most = inner.integer("max", 0, 0, 18)
    inner.close()
    return _Power("places", places_at, most)


def _signs(table: Table, has_one: bool, key: str) -> tuple[Bit | None, SignByte | None]:
    """A sign bit, or a sign byte."""
    negative = _bit(table, "negative")
    sign = _sign_byte(table)
    known = [name for name in ("negative", "sign") if name in table]
    if has_one and known:
        mend = "take one of the two away."
        table.problem(known[0], f"the number has its sign already ({key}).", mend)
    elif len(known) > 1:
        table.problem("sign", "negative already says it.", "take one of the two away.")
    return negative, sign


def _sign_byte(table: Table) -> SignByte | None:
    inner = table.table("sign")
    if inner is None:
        return None
    inner.required("at", "values")
    at, mask = inner.integer("at", None, 0, LAST), inner.integer("mask", 0xFF, 1, 0xFF)
    words = _numbered(inner, "values", 0xFF)
    for word in words.values():
        if word not in ("plus", "minus"):
            inner.problem("values", f"{word!r} is no sign.", 'write "plus" or "minus".')
    inner.close()
    values = {value: word == "minus" for value, word in words.items()}
    return None if at is None else SignByte(at, values, mask)


class _Halves(NamedTuple):
    """How decimal digits stand in the half bytes of a number."""

    per_byte: Literal[1, 2] = 2
    low_first: bool = False
    skip: tuple[int, int] = (0, 0)


def _decimal_span(table: Table) -> tuple[Span | None, _Halves]:
    inner = table.table("number")
    if inner is None:
        return None, _Halves()
    inner.required("at")
    per_byte: Literal[1, 2] = inner.choice("digits_per_byte", 2, (1, 2))
    low_first = inner.flag("low_half_first", False)
    if low_first and per_byte == 1:
        inner.problem("low_half_first", "there is one digit to a byte.", "take it away.")
    skip = inner.integer("skip_first", 0, 0, 3), inner.integer("skip_last", 0, 0, 3)
    span = _read_span(inner, 18 if per_byte == 1 else 9, plain=True)
    if span is not None and sum(skip) >= span.count * per_byte:
        inner.problem("skip_first", "no digit is left.", "take it away.")
    return span, _Halves(per_byte, low_first, skip)


def _span(table: Table, key: str, most: int, *, plain: bool = False) -> Span | None:
    inner = table.table(key)
    return None if inner is None else _read_span(inner, most, plain=plain)


def _read_span(inner: Table, most: int, *, plain: bool) -> Span | None:
    """``plain``: whether the bytes are signed or not is no question."""
    inner.required("at")
    at = inner.integer("at", None, 0, LAST)
    count = inner.integer("bytes", 1, 1, most)
    order = inner.choice("order", "big", ("big", "little"))
    signed = not plain and inner.flag("signed", False)
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
    fixed = fixed_unit(table) if isinstance(table.raw("unit"), str) else None
    unit = None if isinstance(table.raw("unit"), str) else _unit(table)
    channel = _span(table, "channel", 2)
    return Surroundings(unit, _flags(table), channel, fixed, _always(table))


def _always(table: Table) -> tuple[Always, ...]:
    """Bytes, or bits of them, that every message has."""
    inner = table.table("always")
    found = []
    for key in inner.keys() if inner is not None else ():
        assert inner is not None
        word = inner.text(key, "")
        bits = f"{int(word, 16):08b}" if _hex(word) else word
        if not key.isdecimal() or int(key) > LAST or len(bits) != 8 or set(bits) - set("01."):
            mend = 'write two hex digits or eight bits, like { 3 = "0A", 4 = "01......" }.'
            inner.problem(key, f"{word!r} is no byte.", mend)
            continue
        mask = int("".join("0" if bit == "." else "1" for bit in bits), 2)
        found.append(Always(int(key), mask, int(bits.replace(".", "0"), 2)))
    return tuple(found)


def _hex(word: str) -> bool:
    return len(word) == 2 and not set(word) - set("0123456789abcdefABCDEF")


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


def _length(around: Surroundings, *read: Span | Bit | SignByte | int | None) -> int:
    """Bytes a message must have for every byte the profile reads to be in it."""
    unit_at = around.unit.at if around.unit else None
    spots = [unit_at, around.channel, *(bit for bit, _ in around.flags)]
    spots += [one.at for one in around.always]
    return 1 + max(_last(spot) for spot in (*read, *spots))


def _last(spot: Span | Bit | SignByte | int | None) -> int:
    """The number of the last byte of what is read."""
    if isinstance(spot, Span):
        return spot.at + spot.count - 1
    if isinstance(spot, Bit | SignByte):
        return spot.at
    return spot or 0
