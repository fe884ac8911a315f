"""Quantiles and tail shares of the t, χ² and F distributions.

Thin and kept: scipy is imported when the first is asked for, because it takes long.
"""

from __future__ import annotations

import math
from functools import lru_cache


def check_level(level: float) -> None:
    """Raises ValueError unless ``level`` is a share between 0 and 1."""
    if not 0 < level < 1:
        raise ValueError(f"A confidence level lies between 0 and 1 (0.95), not {level}.")


@lru_cache(maxsize=1024)
def normal(p: float) -> float:
    """z below which a share p of a standard normal distribution lies."""
    from scipy.special import ndtri

    return float(ndtri(p))


@lru_cache(maxsize=1024)
def student(p: float, df: float) -> float:
    """t below which a share p of Student's distribution lies."""
    if math.isinf(df):
        return normal(p)
    from scipy.special import stdtrit

    return float(stdtrit(df, p))


@lru_cache(maxsize=1024)
def student_tails(t: float, df: float) -> float:
    """The share of Student's distribution at least as far from 0 as t, both tails."""
    from scipy.special import stdtr

    return float(2 * stdtr(df, -abs(t)))


@lru_cache(maxsize=1024)
def chi_square(p: float, df: float) -> float:
    """χ² below which a share p lies."""
    from scipy.special import chdtri

    return float(chdtri(df, 1 - p))


@lru_cache(maxsize=1024)
def fisher(p: float, above: float, below: float) -> float:
    """F below which a share p lies, for the degrees of freedom above and below the line."""
    from scipy.special import fdtri

    return float(fdtri(above, below, p))


@lru_cache(maxsize=1024)
def fisher_tail(f: float, above: float, below: float) -> float:
    """The share of the F distribution beyond f."""
    from scipy.special import fdtrc

    return float(fdtrc(above, below, f))


def noncentrality(p: float, df: float, t: float) -> float:
    """The noncentrality under which a share p of the noncentral t distribution lies below t."""
    from scipy.special import nctdtrinc

    return float(nctdtrinc(df, p, t))
