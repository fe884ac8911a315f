"""How much chance explains: quantiles that need no library.

Findings are looked up whenever a page is shown, where loading a statistics library would be felt.
"""

from __future__ import annotations

import math
from statistics import NormalDist

from capture.sisters import ROUNDED

RARE = 0.01
"""Share of good characteristics, groups or tests in which a rule finds something by chance."""


def chi_square(outside: float, degrees: int) -> float:
    """The χ² that is passed with probability ``outside`` (Wilson and Hilferty's cube: within 3 %
    of the exact value, 4 % at one degree of freedom, for shares from 0.001 to 0.05)."""
    if not 0.0 < outside < 1.0 or degrees < 1:
        raise ValueError(f"no χ² for a share of {outside} and {degrees} degrees of freedom")
    z = NormalDist().inv_cdf(1.0 - outside)
    ninth = 2.0 / (9.0 * degrees)
    return degrees * (1.0 - ninth + z * math.sqrt(ninth)) ** 3


def squares(sizes: list[float]) -> float:
    """Sum of squares about the mean."""
    middle = math.fsum(sizes) / len(sizes)
    return math.fsum((size - middle) ** 2 for size in sizes)


def left_out(values: list[float]) -> list[tuple[float, float]]:
    """For each of at least two values: mean and sum of squares of all the others. In one pass, for
    there may be thousands."""
    count = len(values)
    middle = math.fsum(values) / count
    away = [value - middle for value in values]
    total = math.fsum(one * one for one in away)
    rests = [total - one * one * count / (count - 1) for one in away]
    return [
        (middle - one / (count - 1), rest if rest > ROUNDED * total else 0.0)
        for one, rest in zip(away, rests, strict=True)
    ]


def deviation(sizes: list[float]) -> float:
    """Standard deviation of at least two."""
    return math.sqrt(squares(sizes) / (len(sizes) - 1))
