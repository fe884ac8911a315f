"""How many digits of a size are shown: enough for its limits and its uncertainty, and one more.

The GUM (JCGM 100:2008, 7.2.6) lets a result be rounded to what its uncertainty warrants; one digit
more than that keeps a size that lies just beyond a limit from being shown as if it lay on it.
"""

from __future__ import annotations

from collections.abc import Sequence

from capture.quantity import Number, brief

FINEST = 6
"""The most decimals that count as stated: what has more was computed."""
UNKNOWN = 9
"""Decimals of a size with neither limits nor uncertainty."""


def decimals(written: str) -> int:
    """Digits after the point."""
    return len(written.partition(".")[2])


def alike(written: Sequence[str | None]) -> list[str | None]:
    """Computed values of one table with as many decimals as the longest of them has: of values
    that were rounded alike one may end in a zero (0.04 beside 0.0385 is 0.0400)."""
    places = max((decimals(one) for one in written if one is not None), default=0)
    return [None if one is None else _filled(one, places) for one in written]


def _filled(written: str, places: int) -> str:
    left = places - decimals(written)
    point = "" if "." in written or not left else "."
    return f"{written}{point}{'0' * left}"


def signed(written: str) -> str:
    """With the sign that typesetting has for minus, for reading; programs get a hyphen."""
    return written.replace("-", "\N{MINUS SIGN}", 1) if written.startswith("-") else f"+{written}"


def shown(value: Number, *grounds: str | None) -> str:
    """``value`` rounded once, half to even; ``grounds`` are its limits and expanded uncertainty. A
    size that has fewer digits stands as it is."""
    stated = [found for one in grounds if one is not None and (found := decimals(one)) <= FINEST]
    return brief(value, max(stated) + 1 if stated else UNKNOWN)
