"""Student's t for whole degrees of freedom, without a library: quantile and density.

Asked as a reading comes in, where loading a statistics library would be felt. The distribution
function is the finite series of Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.3
and 26.7.4 (from memory; the tests compare with a reference library).
"""

from __future__ import annotations

import math
from functools import lru_cache


def within(t: float, degrees: int) -> float:
    """A(t): the probability of lying between −t and t. ``t`` ≥ 0, ``degrees`` ≥ 1."""
    theta = math.atan2(t, math.sqrt(degrees))
    cosine, sine = math.cos(theta), math.sin(theta)
    odd = degrees % 2
    term = cosine if odd else 1.0
    total = term if degrees > 1 else 0.0
    for k in range(3 if odd else 2, degrees, 2):
        term *= cosine * cosine * (k - 1) / k
        total += term
    if odd:
        return 2.0 / math.pi * (theta + sine * total)
    return sine * total


@lru_cache(maxsize=4096)
def quantile(outside: float, degrees: int) -> float:
    """The t beyond which, on both sides together, lies the share ``outside``.

    Raises ValueError where that is not a share, or there are no degrees of freedom.
    """
    if not 0.0 < outside < 1.0:
        raise ValueError(f"a share of {outside} does not lie between 0 and 1")
    if degrees < 1:
        raise ValueError(f"{degrees} degrees of freedom are not enough: one is the least")
    lower, upper = 0.0, 1.0
    while 1.0 - within(upper, degrees) > outside:
        lower, upper = upper, upper * 2.0
    for _ in range(60):
        middle = 0.5 * (lower + upper)
        if 1.0 - within(middle, degrees) > outside:
            lower = middle
        else:
            upper = middle
    return 0.5 * (lower + upper)


@lru_cache(maxsize=4096)
def _log_constant(degrees: int) -> float:
    half = 0.5 * degrees
    return math.lgamma(half + 0.5) - math.lgamma(half) - 0.5 * math.log(degrees * math.pi)


def log_density(t: float, degrees: int) -> float:
    """Natural logarithm of the density at ``t``."""
    return _log_constant(degrees) - 0.5 * (degrees + 1) * math.log1p(t * t / degrees)
