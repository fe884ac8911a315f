"""What the inputs of calculations have in common.

Every number that may have decimals is text, digits as read, as everywhere in this interface; counts
are JSON numbers. In answers sizes are text again, and statistics (which are floats) JSON numbers.
Keys that are not known are refused.
"""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Context, Decimal
from fractions import Fraction
from typing import Annotated, Any, ClassVar, Final, NamedTuple

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints
from pydantic_core import PydanticCustomError

from api import forms
from capture.errors import UnitError
from capture.quantity import Number, convert, dimension, text

Data = dict[str, Any]
Digits = Annotated[str, StringConstraints(max_length=40, pattern=forms.DIGITS)]
Size = Annotated[str, StringConstraints(max_length=40, pattern=forms.SIZE)]
Word = Annotated[str, StringConstraints(min_length=1, max_length=200, pattern=forms.WRITTEN)]
Unit = Annotated[str, Field(min_length=1, max_length=20, description="Such as mm, in, N·m.")]
"""Of numbers that are not converted: any word, shown as it came."""


def refused(message: str, mend: str) -> PydanticCustomError:
    """To be raised by a field's own check, so that the answer names its key."""
    return PydanticCustomError(forms.SAID, "{says}", {"says": message, "mend": mend})


def _checked(unit: str, wanted: str | None = None) -> str:
    """The unit, where it is known and measures what is wanted (None: anything)."""
    such = f"Write a unit such as {_SUCH[wanted or 'length']}."
    try:
        found = dimension(unit)
    except UnitError as error:
        raise refused(str(error), such) from None
    if wanted is not None and found != wanted:
        raise refused(f"{unit} measures {found}, not {wanted}.", such)
    return unit


def _measures(wanted: str) -> AfterValidator:
    return AfterValidator(lambda unit: _checked(unit, wanted))


def _known(unit: str) -> str:
    return _checked(unit)


def _or_bare(unit: str) -> str:
    return unit if unit == "1" else _checked(unit)


_SUCH: Final = {
    "length": "mm or in",
    "torque": "N·m or lbf·ft",
    "force": "N or lbf",
    "temperature": "°C or °F",
    "volume": "cm³ or in³",
}
KnownUnit = Annotated[Unit, AfterValidator(_known)]
AnyUnit = Annotated[Unit, AfterValidator(_or_bare)]
"""A known unit, or 1 for a bare number."""
LengthUnit = Annotated[Unit, _measures("length")]
TorqueUnit = Annotated[Unit, _measures("torque")]
ForceUnit = Annotated[Unit, _measures("force")]
TemperatureUnit = Annotated[Unit, _measures("temperature")]
VolumeUnit = Annotated[Unit, _measures("volume")]
Level = Annotated[Size, Field(description="A probability between 0 and 1.")]

MOST_PARTS: Final = 1000
MOST_READINGS: Final = 10_000
_ENOUGH: Final = Context(prec=12, rounding=ROUND_HALF_EVEN)


class Answer(NamedTuple):
    """What a calculation gives."""

    unit: str | None
    """Of the sizes in the result that name no other."""
    method: str
    result: Data
    cautions: list[str]


class Fields(BaseModel):
    """A part of an input."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, defer_build=True)


class Input(Fields):
    """What a calculation takes."""

    example: ClassVar[Data] = {}
    """An input that works; invented, or the source's where the tests name one."""

    def answer(self) -> Answer:
        """Raises ValueError (also a UnitError) with a sentence where the input makes no sense."""
        raise NotImplementedError


def number(digits: str) -> Decimal:
    """The value of ``Digits`` or ``Size``."""
    return Decimal(digits)


def optional(digits: str | None) -> Decimal | None:
    return None if digits is None else Decimal(digits)


def in_unit(digits: str, unit: str, to: str) -> Number:
    """A number of one unit in another."""
    return convert(Decimal(digits), unit, to)


def shown(value: Number) -> str:
    """Exact decimal text where that is short, else 12 significant digits."""
    whole = text(value)
    if len(whole) <= 16:
        return whole
    part = Fraction(value)
    rounded = _ENOUGH.divide(Decimal(part.numerator), Decimal(part.denominator))
    return format(rounded if rounded else abs(rounded), "f")


def maybe(value: Number | None) -> str | None:
    return None if value is None else shown(value)


def decided(*given: object) -> int:
    """How many of these were given."""
    return sum(one is not None for one in given)
