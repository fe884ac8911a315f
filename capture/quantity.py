"""Exact arithmetic with units: names, factors, conversions, and the one rounding at display.

Nothing here rounds except ``text``. A converted value is a ``Decimal`` where its decimals end and
a ``Fraction`` where they would not (1 mm in inches), so that converting back gives the very value.
Factors are exact by definition (see ``capture.units``); only the few units that table leaves to
pint are looked up there, when first asked for, because importing pint is slow.
"""

from __future__ import annotations

from decimal import (
    MAX_EMAX,
    MAX_PREC,
    MIN_EMIN,
    ROUND_HALF_EVEN,
    Context,
    Decimal,
    Inexact,
    InvalidOperation,
)
from fractions import Fraction
from functools import lru_cache
from typing import Any, Final, NamedTuple

from capture import units
from capture.errors import UnitError

Number = Decimal | Fraction
"""Decimal where the decimals end, Fraction where they would not."""

_EXACT: Final = Context(
    prec=MAX_PREC, Emax=MAX_EMAX, Emin=MIN_EMIN, traps=[Inexact, InvalidOperation]
)
_SHOWN: Final = Context(prec=12, rounding=ROUND_HALF_EVEN)
_STEPS: Final = tuple(Decimal(1).scaleb(-places) for places in range(25))
_NAMES: Final = {unit: unit for unit in units.DIMENSIONS}


class _Plan(NamedTuple):
    """How to convert one pair of units: value × scale + offset."""

    decimal: Decimal | None
    """The scale, where it ends and there is no offset: the quick way."""
    scale: Fraction
    offset: Fraction


_plans: dict[tuple[str, str], _Plan] = {}


def unit_name(word: str) -> str:
    """Our name for the unit that ``word`` means (``MM`` → ``mm``, ``ft-lb`` → ``lbf·ft``).

    Raises UnitError where the word is unknown (naming the units that are known) or may mean two
    things (naming the choices).
    """
    if word in _NAMES:
        return word
    name = units.known(word)
    if name is not None:
        return name
    if (why := units.refusal(word)) is not None:
        raise UnitError(f"Unit {word!r} is not taken: {why}.")
    raise UnitError(f"Unit {word!r} is not known. Known units: {', '.join(_NAMES)}.")


def dimension(unit: str) -> str:
    """What ``unit`` measures: ``length``, ``torque``, ``angle``, ``temperature``, ``mass``,
    ``volume``, ``pressure`` or ``force``. Raises UnitError where it is unknown."""
    return units.DIMENSIONS[unit_name(unit)]


def factor(unit: str, to: str) -> Fraction:
    """How many ``to`` one ``unit`` is, exactly (``in`` to ``mm``: 127/5).

    Raises UnitError where a unit is unknown, the two measure different things, or they are
    temperatures, which need an offset too: use ``convert``.
    """
    source, target = unit_name(unit), unit_name(to)
    plan = _plan(source, target)
    if plan.offset:
        raise UnitError(
            f"{source} and {target} differ by an offset, not only a factor: convert the value."
        )
    return plan.scale


def convert(value: Number, unit: str, to: str) -> Number:
    """``value`` of ``unit`` in ``to``, exactly; the same object where the units are the same.

    Temperatures are converted as temperatures, with their offset. Raises UnitError where a unit
    is unknown or the two measure different things.
    """
    if unit == to:
        return value
    plan = _plans.get((unit, to)) or _plan(unit_name(unit), unit_name(to))
    if plan.decimal is not None and type(value) is Decimal:
        return value if plan.decimal == 1 else _EXACT.multiply(value, plan.decimal)
    numerator, denominator = value.as_integer_ratio()
    scale, offset = plan.scale, plan.offset
    scaled = Fraction(numerator * scale.numerator, denominator * scale.denominator)
    return exact(scaled + offset if offset else scaled)


def add(one: Number, two: Number) -> Number:
    """The exact sum; a Decimal where its decimals end."""
    if isinstance(one, Decimal) and isinstance(two, Decimal):
        return _EXACT.add(one, two)
    return exact(Fraction(one) + Fraction(two))


def exact(value: Number) -> Number:
    """``value`` as a Decimal where its decimals end, else as a Fraction."""
    if isinstance(value, Decimal):
        return value
    rest = value.denominator
    twos = (rest & -rest).bit_length() - 1
    rest >>= twos
    fives = 0
    while rest % 5 == 0:
        rest //= 5
        fives += 1
    if rest != 1:
        return value
    places = max(twos, fives)
    digits = value.numerator * 2 ** (places - twos) * 5 ** (places - fives)
    return _EXACT.scaleb(Decimal(digits), -places)


def text(value: Number, places: int | None = None) -> str:
    """``value`` as plain decimal text, rounded once, ties to even.

    ``places`` is how many digits stand after the point. Without it the text is exact where the
    decimals end (trailing zeros kept) and has 12 significant digits where they would not. Zero
    never has a minus sign.
    """
    if places is not None:
        step = Fraction(10) ** -places
        shown = _EXACT.scaleb(Decimal(round(Fraction(value) / step)), -places)
    elif isinstance(ended := exact(value), Decimal):
        shown = ended
    else:
        shown = _SHOWN.divide(Decimal(ended.numerator), Decimal(ended.denominator))
    return format(shown if shown else abs(shown), "f")


def plain(value: Decimal | None) -> str | None:
    """Decimal text without an exponent; None stays None."""
    return None if value is None else format(value, "f")


@lru_cache(maxsize=256)
def unit_step(unit: str, to: str) -> Fraction:
    """How many ``to`` a change by one ``unit`` is: of a temperature without its offset."""
    return Fraction(convert(Decimal(1), unit, to)) - Fraction(convert(Decimal(0), unit, to))


def brief(value: Number, places: int = 9) -> str:
    """Exact decimal text where that has at most ``places`` decimals, else rounded to them."""
    whole = text(value)
    return whole if len(whole.partition(".")[2]) <= places else text(value, places)


def resolution(digits: str) -> Decimal:
    """The step of the last digit sent: ``25.400`` gives 0.001, ``25`` gives 1.

    ``digits`` is decimal text without an exponent; raises ValueError where it is not.
    """
    whole, _, decimals = digits.lstrip("+-").partition(".")
    if not (whole + decimals).isdecimal():
        raise ValueError(f"{digits!r} is not decimal digits")
    places = len(decimals)
    return _STEPS[places] if places < len(_STEPS) else Decimal(1).scaleb(-places)


def _plan(source: str, target: str) -> _Plan:
    """The way from one of our units to another; kept, since there are few pairs."""
    plan = _plans.get((source, target))
    if plan is None:
        scale, offset = _scale_and_offset(source, target)
        ended = exact(scale)
        quick = ended if isinstance(ended, Decimal) and not offset else None
        plan = _plans[source, target] = _Plan(quick, scale, offset)
    return plan


def _scale_and_offset(source: str, target: str) -> tuple[Fraction, Fraction]:
    measures, wanted = units.DIMENSIONS[source], units.DIMENSIONS[target]
    if measures != wanted:
        raise UnitError(
            f"{source} measures {measures} and {target} measures {wanted}: "
            "one cannot be converted to the other."
        )
    if measures == "temperature":
        scale, offset = units.TEMPERATURES[source]
        wanted_scale, wanted_offset = units.TEMPERATURES[target]
        return scale / wanted_scale, (offset - wanted_offset) / wanted_scale
    return _size(source) / _size(target), Fraction(0)


def _size(unit: str) -> Fraction:
    """The unit in the first unit of its dimension."""
    measures = units.DIMENSIONS[unit]
    known = units.SIZES[measures].get(unit)
    if known is not None:
        return known
    base = "degree" if measures == "angle" else "pascal"
    return Fraction(_pint().convert(Fraction(1), units.RARE[unit][1], base))


@lru_cache(maxsize=1)
def _pint() -> Any:
    """The registry of pint, counting in fractions; imported here because it takes long."""
    import pint

    return pint.UnitRegistry(non_int_type=Fraction)
