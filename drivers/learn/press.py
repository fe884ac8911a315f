"""One press of an unknown gauge: the size that it stood at, and the bytes that came."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from functools import lru_cache
from typing import Any

from capture.quantity import convert, unit_name

_SIZE = re.compile(r"\s*([+-]?\s*[0-9]*[.,]?[0-9]*)\s*(\S.*?)?\s*\Z")


@dataclass(frozen=True, slots=True)
class Press:
    """What came from one press."""

    raw: bytes
    size: Decimal | None = None
    """None where nobody knows it."""
    unit: str | None = None
    """Our name of the size's unit."""
    switched: str | None = None
    """The unit the gauge had been switched to; None where it was left as it was."""

    def at(self, unit: str) -> Fraction:
        """The size in ``unit``; to be asked only where the size is known."""
        assert self.size is not None
        assert self.unit is not None
        return _in(self.size, self.unit, unit)

    @property
    def sign(self) -> int:
        """-1, 0 or 1; 0 also where the size is not known."""
        return 0 if not self.size else (1 if self.size > 0 else -1)


@lru_cache(maxsize=256)
def _in(size: Decimal, unit: str, other: str) -> Fraction:
    return Fraction(convert(size, unit, other))


def places_of(size: Decimal | None) -> int:
    """Digits behind the point, without noughts at the end."""
    return 0 if size is None else max(0, -int(size.normalize().as_tuple().exponent))


def known_places(presses: Sequence[Press], unit: str) -> int:
    """To how many digits behind the point sizes are known in ``unit``."""
    return max((places_of(press.size) for press in presses if press.unit == unit), default=0)


def size_of(text: str) -> tuple[Decimal, str]:
    """``10 mm`` → 10, ``mm``; raises ValueError with the mend, UnitError for an unknown unit."""
    found = _SIZE.match(text)
    word = found[2] if found else None
    if found is None or not word:
        raise ValueError(f"{text!r} is no size with its unit: write it like '10 mm'.")
    try:
        value = Decimal(found[1].replace(" ", "").replace(",", "."))
    except InvalidOperation:
        raise ValueError(f"{text!r} is no size with its unit: write it like '10 mm'.") from None
    return value, unit_name(word)


def press_of(at: str | None, raw: bytes, switched: str | None = None) -> Press:
    """A press at a size written as text; raises as ``size_of`` does."""
    if not raw:
        raise ValueError("a press without bytes teaches nothing: leave it out.")
    unit = unit_name(switched) if switched else None
    if at is None:
        return Press(raw, switched=unit)
    value, name = size_of(at)
    return Press(raw, value, name, unit)


def press_from(row: Any) -> Press:
    """A press from one line of a capture: ``{"at": "10 mm", "hex": "…", "unit": "in"}``."""
    if not isinstance(row, dict) or not isinstance(row.get("hex"), str):
        raise ValueError('a press is written like {"at": "10 mm", "hex": "32 35 0D"}.')
    try:
        raw = bytes.fromhex(row["hex"])
    except ValueError:
        raise ValueError(f"{row['hex']!r} is not hexadecimal: two digits a byte.") from None
    at, unit = row.get("at"), row.get("unit")
    if not isinstance(at, str | None) or not isinstance(unit, str | None):
        raise ValueError('"at" and "unit" are text, like "10 mm" and "in".')
    return press_of(at, raw, unit)
