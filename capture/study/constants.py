"""Factors of ranges and standard deviations of normal samples, computed from their integrals.

With Φ the normal distribution function and W the range of n independent standard normal values:

- d2 is the mean of W, ∫ 1 − Φⁿ − (1 − Φ)ⁿ;
- d3 is its standard deviation, from the mean of W², ∫ 2w (1 − F(w)) dw over w > 0, where
  F(w) = n ∫ φ(x) (Φ(x + w) − Φ(x))ⁿ⁻¹ dx;
- c4 is the mean of the sample standard deviation, √(2/(n − 1)) Γ(n/2) / Γ((n − 1)/2).

The chart factors A2, A3, B3, B4, D3, D4 follow from these (Montgomery, *Introduction to Statistical
Quality Control*, appendix; definitions from memory). The integrands are smooth and die away on both
sides, so that the plain trapezoid sum converges faster than any power of its step.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final, NamedTuple

_LARGEST: Final = 1000
"""Past this a range is a poor measure of spread, and the sums below take long."""
_SPAN: Final = 9.0
_STEP: Final = 0.1


class ChartFactors(NamedTuple):
    """Factors of control charts for samples of n."""

    a2: float
    a3: float
    b3: float
    b4: float
    d3: float
    """D3, of the lower limit of a range chart; not the d3 of a range."""
    d4: float


class RangeFreedom(NamedTuple):
    """How the mean of m ranges stands for a standard deviation (Patnaik's approximation)."""

    d2_star: float
    """Root mean square of the mean of m ranges, √(d2² + d3²/m)."""
    degrees_of_freedom: float


@lru_cache(maxsize=256)
def d2(n: int) -> float:
    """Mean range of n standard normal values. Raises ValueError for n below 2 or above 1000."""
    _check(n)
    count = round(2 * _SPAN / _STEP)
    return _STEP * math.fsum(
        1.0 - _below(x) ** n - _below(-x) ** n
        for x in (at * _STEP - _SPAN for at in range(count + 1))
    )


@lru_cache(maxsize=256)
def d3(n: int) -> float:
    """Standard deviation of the range of n standard normal values."""
    _check(n)
    return math.sqrt(_mean_square_range(n) - d2(n) ** 2)


@lru_cache(maxsize=256)
def d2_star(m: int, n: int) -> float:
    """Root mean square of the mean of m ranges of n values each: √(d2² + d3²/m)."""
    if m < 1:
        raise ValueError(f"A mean range takes at least one range, not {m}.")
    return math.sqrt(d2(n) ** 2 + d3(n) ** 2 / m)


def c4(n: float) -> float:
    """Mean of the sample standard deviation of n standard normal values; n above 1."""
    if not n > 1:
        raise ValueError(f"A standard deviation takes at least two values, not {n}.")
    return math.sqrt(2 / (n - 1)) * math.exp(math.lgamma(n / 2) - math.lgamma((n - 1) / 2))


@lru_cache(maxsize=256)
def chart_factors(n: int) -> ChartFactors:
    """The factors of charts for samples of n, limits at three standard deviations."""
    root, spread, width = math.sqrt(n), d2(n), c4(n)
    wide = 3 * math.sqrt(1 - width * width) / width
    apart = 3 * d3(n) / spread
    return ChartFactors(
        a2=3 / (spread * root),
        a3=3 / (width * root),
        b3=max(0.0, 1 - wide),
        b4=1 + wide,
        d3=max(0.0, 1 - apart),
        d4=1 + apart,
    )


@lru_cache(maxsize=256)
def range_freedom(m: int, n: int) -> RangeFreedom:
    """The χ distribution with the mean and mean square of the mean of m ranges of n.

    Its degrees of freedom ν solve c4(ν + 1) = d2/d2*. Source: Patnaik, *Biometrika* 37 (1950), from
    memory; exact for one range of two values, where ν is 1.
    """
    star = d2_star(m, n)
    wanted = d2(n) / star
    low, high = 0.5, 2.0
    while c4(high + 1) < wanted:
        high *= 2
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if c4(middle + 1) < wanted else (low, middle)
    return RangeFreedom(star, (low + high) / 2)


def _check(n: int) -> None:
    if not 2 <= n <= _LARGEST:
        raise ValueError(f"A range is taken here over 2 to {_LARGEST} values, not {n}.")


def _below(x: float) -> float:
    """Φ, exact in the lower tail too."""
    return 0.5 * math.erfc(-x / math.sqrt(2))


def _mean_square_range(n: int) -> float:
    """∫ 2w (1 − F(w)) dw, with w = exp(t − exp(−t)), under which both ends die away fast."""
    xs = [at * _STEP - _SPAN for at in range(round(2 * _SPAN / _STEP) + 1)]
    grid = [(x, _below(x), math.exp(-x * x / 2) / math.sqrt(2 * math.pi)) for x in xs]
    total = []
    for at in range(-30, 31):
        t = at * _STEP
        w = math.exp(t - math.exp(-t))
        inside = n * _STEP * math.fsum(phi * (_below(x + w) - up) ** (n - 1) for x, up, phi in grid)
        total.append(2 * w * (1 - inside) * w * (1 + math.exp(-t)))
    return _STEP * math.fsum(total)
