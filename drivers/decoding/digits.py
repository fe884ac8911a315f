"""Digits as sent, in the one form the record keeps: ``-?digits[.digits]``."""

from __future__ import annotations


def plain(negative: bool, number: str) -> str:
    """``number`` (digits, at most one point, no sign) without needless leading zeros.

    Trailing zeros stay: ``025.400`` gives ``25.400``; ``.5`` gives ``0.5``; ``25.`` gives ``25``.
    """
    first = number[0]
    if first == "0" or first == ".":
        number = number.lstrip("0")
        if not number or number[0] == ".":
            number = "0" + number
    if number[-1] == ".":
        number = number[:-1]
    return "-" + number if negative else number


def placed(negative: bool, digits: str, places: int) -> str:
    """``digits`` (no point) with the point before the last ``places`` of them.

    ``025400``, 3 gives ``25.400``. Negative ``places`` append zeros: 12, -1 gives 120.
    """
    if places > 0:
        digits = digits.zfill(places + 1)
        digits = f"{digits[:-places]}.{digits[-places:]}"
    elif places < 0:
        digits += "0" * -places
    return plain(negative, digits)
