"""How many digits of a size are shown: enough for its limits and its uncertainty, and one more.

The GUM (JCGM 100:2008, 7.2.6) lets a result be rounded to what its uncertainty warrants; one digit
more than that keeps a size that lies just beyond a limit from being shown as if it lay on it.
"""

from __future__ import annotations

from capture.quantity import Number, brief

FINEST = 6
"""The most decimals that count as stated: what has more was computed."""
UNKNOWN = 9
"""Decimals of a size with neither limits nor uncertainty."""


def decimals(written: str) -> int:
    """Digits after the point."""
    return len(written.partition(".")[2])


def shown(value: Number, *grounds: str | None) -> str:
    """``value`` rounded once, half to even; ``grounds`` are its limits and expanded uncertainty. A
    size that has fewer digits stands as it is."""
    stated = [found for one in grounds if one is not None and (found := decimals(one)) <= FINEST]
    return brief(value, max(stated) + 1 if stated else UNKNOWN)
