"""Single values of a spec file, checked: decimals, whole numbers, words, text."""

from __future__ import annotations

import re
from decimal import Decimal

from capture.spec.problems import shown

_DECIMAL = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?")
_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")
_WORD = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}")
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029]")
_LARGEST_EXPONENT = 8
_FINEST_EXPONENT = -12


class Unfit(ValueError):
    """A value that will not do; says why and what would."""

    def __init__(self, message: str, mend: str) -> None:
        super().__init__(message)
        self.message = message
        self.mend = mend


def decimal(value: object) -> Decimal:
    """An exact decimal from ``"25.400"``, ``25.400`` or ``25``, its digits as written.

    Below 10⁹ in size, at most 12 decimals: sums of two such stay exact in any Decimal context.
    """
    if isinstance(value, str):
        if not _DECIMAL.fullmatch(value):
            if _COMMA.fullmatch(value):
                raise Unfit(f"{shown(value)} has a comma", f'write "{value.replace(",", ".")}"')
            raise Unfit(f"{shown(value)} is not a number", 'write digits in quotes, as "25.400"')
        return _plain(Decimal(value))
    if isinstance(value, Decimal):
        return _plain(value)
    if isinstance(value, int) and not isinstance(value, bool):
        return _plain(Decimal(value) if abs(value) < 10**18 else Decimal("1e99"))
    raise Unfit(f"{shown(value)} is not a number", 'write digits in quotes, as "25.400"')


def _plain(number: Decimal) -> Decimal:
    if not number.is_finite():
        raise Unfit("this is not a finite number", 'write digits in quotes, as "25.400"')
    exponent = number.as_tuple().exponent
    assert isinstance(exponent, int)
    if number and number.adjusted() > _LARGEST_EXPONENT:
        raise Unfit("this number is too large", "write a number below 1 000 000 000")
    if exponent < _FINEST_EXPONENT:
        raise Unfit("this number has too many decimals", "write at most 12 decimals")
    if exponent > 0:
        number = number.quantize(Decimal(1)) if number else Decimal(0)
    return number if number else abs(number)


def whole(value: object, least: int, most: int) -> int:
    """A whole number from ``least`` to ``most``."""
    if not isinstance(value, int) or isinstance(value, bool):
        raise Unfit(f"{shown(value)} is not a whole number", "write digits without quotes, as 4")
    if not least <= value <= most:
        raise Unfit(f"{shown(value)} is out of range", f"write a number from {least} to {most}")
    return value


def flag(value: object) -> bool:
    """``true`` or ``false``."""
    if not isinstance(value, bool):
        raise Unfit(f"{shown(value)} is neither true nor false", "write true or false, unquoted")
    return value


def text(value: object) -> str:
    """Text for a person: not blank, without control characters; its ends trimmed."""
    if not isinstance(value, str):
        raise Unfit(f"{shown(value)} is not text", "write text in quotes")
    if not value.strip():
        raise Unfit("this text is empty", "write a few words, or remove the key")
    if _CONTROL.search(value):
        raise Unfit("this text holds a control character", "write it without")
    return value.strip()


def line(value: object) -> str:
    """Text on one line, as a title is."""
    found = text(value)
    if "\n" in found or "\t" in found:
        raise Unfit("this text runs over more than one line", "write it on one line")
    return found


def word(value: object) -> str:
    """A word to be referred to by: letters, digits, ``-`` and ``_``; at most 64."""
    if not isinstance(value, str):
        raise Unfit(f"{shown(value)} is not a word", 'write one word in quotes, as "cylinder-bore"')
    if not _WORD.fullmatch(value):
        better = re.sub(r"[^a-z0-9]+", "-", value[:64].lower()).strip("-") or "cylinder-bore"
        raise Unfit(
            f"{shown(value)} is not one word of letters, digits, - and _ (at most 64)",
            f'write it as "{better}"',
        )
    return value


def array(value: object, example: str) -> list[object]:
    """An array; ``example`` shows how one is written."""
    if not isinstance(value, list):
        raise Unfit(f"{shown(value)} is not an array", f"write it in brackets, as {example}")
    return value
