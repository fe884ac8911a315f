"""Confidence intervals of variances that are sums or differences of mean squares.

Independent mean squares Mᵢ with νᵢ degrees of freedom, and a variance γ = Σ cᵢ Mᵢ:

- one term: exact, from χ²;
- all cᵢ positive: the modified large-sample interval of Graybill and Wang (1980);
- c₁M₁ − c₂M₂: that of Ting, Burdick, Graybill, Jeyaratnam and Lu (1990), whose lower end is zero
  exactly where the F test finds M₁ no larger than M₂, and whose upper end likewise.

Both as in Burdick and Graybill, *Confidence Intervals on Variance Components* (1992), formulas from
memory; they are checked against what they must reduce to, and by how often they contain the truth.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from capture.study.quantile import check_level, chi_square, fisher


class Term(NamedTuple):
    """One mean square of a variance, and its factor there."""

    factor: float
    mean_square: float
    degrees_of_freedom: int


class Interval(NamedTuple):
    """Where a variance lies, at the level asked for; never below 0."""

    low: float
    high: float


def total(terms: Sequence[Term]) -> float:
    """Σ cᵢ Mᵢ, which may be negative where a term is."""
    return math.fsum(term.factor * term.mean_square for term in terms)


def satterthwaite(terms: Sequence[Term]) -> float | None:
    """Effective degrees of freedom of Σ cᵢ Mᵢ (Satterthwaite 1946); None where it is 0."""
    whole = total(terms)
    parts = math.fsum(
        (term.factor * term.mean_square) ** 2 / term.degrees_of_freedom for term in terms
    )
    return whole * whole / parts if parts and whole > 0 else None


def interval(terms: Sequence[Term], level: float = 0.95) -> Interval:
    """The two-sided confidence interval of Σ cᵢ Mᵢ.

    Terms with factor 0 do not count. Raises ValueError for a level that is not between 0 and 1, a
    term without degrees of freedom, or a combination of terms that none of the above covers.
    """
    check_level(level)
    used = [term for term in terms if term.factor]
    if not used or any(term.degrees_of_freedom < 1 for term in used):
        raise ValueError("An interval takes mean squares with at least one degree of freedom.")
    tail = (1 - level) / 2
    if all(term.factor > 0 for term in used):
        return _of_sum(used, tail)
    if len(used) == 2 and used[0].factor > 0 > used[1].factor:
        return _of_difference(used[0], used[1], tail)
    raise ValueError("Intervals are known here for sums of mean squares and for one less another.")


def _below(term: Term, tail: float) -> float:
    """G: how far, as a share of the term, the exact lower end lies below it."""
    df = term.degrees_of_freedom
    return 1 - df / chi_square(1 - tail, df)


def _above(term: Term, tail: float) -> float:
    """H: how far, as a share of the term, the exact upper end lies above it."""
    df = term.degrees_of_freedom
    return df / chi_square(tail, df) - 1


def _of_sum(terms: Sequence[Term], tail: float) -> Interval:
    middle = total(terms)
    sizes = [term.factor * term.mean_square for term in terms]
    down = [_below(term, tail) * size for term, size in zip(terms, sizes, strict=True)]
    up = [_above(term, tail) * size for term, size in zip(terms, sizes, strict=True)]
    return Interval(max(0.0, middle - math.hypot(*down)), middle + math.hypot(*up))


def _of_difference(one: Term, other: Term, tail: float) -> Interval:
    larger, smaller = one.factor * one.mean_square, -other.factor * other.mean_square
    freedom = (one.degrees_of_freedom, other.degrees_of_freedom)
    low = _square(
        larger, smaller, _below(one, tail), _above(other, tail), fisher(1 - tail, *freedom)
    )
    high = _square(larger, smaller, _above(one, tail), _below(other, tail), fisher(tail, *freedom))
    middle = larger - smaller
    return Interval(max(0.0, middle - math.sqrt(low)), max(0.0, middle + math.sqrt(high)))


def _square(larger: float, smaller: float, first: float, second: float, f: float) -> float:
    """The squared half width: the cross term makes it (F − 1)² at a ratio of F."""
    cross = ((f - 1) ** 2 - (first * f) ** 2 - second**2) / f
    square = (first * larger) ** 2 + (second * smaller) ** 2 + cross * larger * smaller
    return max(0.0, square)
