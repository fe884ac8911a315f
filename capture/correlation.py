"""How sure a combination of sizes is when they share errors.

Two sizes taken with one gauge share what its certificate leaves open; two taken from one setting
standard share that standard's. In a difference what they share drops out, in a mean it does not
average out. After GUM (JCGM 100:2008) 5.2.2, from memory, with a correlation of one between equal
sources and none between different ones::

    u²(Σ cᵢ·xᵢ) = Σ over sources (Σ cᵢ·u_source,i)² + Σ cᵢ²·own_i²

Coefficients are exact, so that what cancels is nothing and not a float's last bit; only correctly
rounded operations follow (float of a fraction, ×, +, √). So the same terms give the same digits on
every platform and in any order.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from fractions import Fraction
from typing import NamedTuple

Shared = tuple[tuple[str, float], ...]
"""(source, standard uncertainty) of each contribution that other sizes may share."""


class Sourced(NamedTuple):
    """The standard uncertainty of one size, in its unit: what is its own and what it shares."""

    own: float
    shared: Shared = ()


def sourced(standard_uncertainty: float, shared: Shared) -> Sourced:
    """A standard uncertainty as its own share and what it shares: own² = u² − Σ shared².

    The own share is zero where what is shared already comes to more (a rounded u). Raises
    ValueError where an uncertainty is negative or not finite.
    """
    for u in (standard_uncertainty, *(u for _, u in shared)):
        if not 0 <= u < math.inf:
            raise ValueError(f"standard uncertainty is {u}")
    square = math.fsum(
        (standard_uncertainty * standard_uncertainty, *(-(u * u) for _, u in shared))
    )
    return Sourced(math.sqrt(max(square, 0.0)), shared)


def combined(terms: Iterable[tuple[Fraction | int, Sourced]]) -> float:
    """The standard uncertainty of Σ coefficient × size, where sizes share errors by source.

    Terms are (coefficient, uncertainty of the size); a coefficient carries the change of unit where
    sizes are in different ones. Each term is another size: one size that enters twice is one term
    with both coefficients added.
    """
    own, common = _apart(terms)
    return math.sqrt(math.fsum(u * u for u in (*own, *common.values())))


def contributions(
    terms: Iterable[tuple[str, Fraction | int, Sourced]],
) -> list[tuple[str, float]]:
    """What ``combined`` adds up, line by line: (source, standard uncertainty) of each source, then
    (name, standard uncertainty) of each size's own share. Terms are named here."""
    listed = [(name, rate, size) for name, rate, size in terms if rate]
    own, common = _apart((rate, size) for _, rate, size in listed)
    return [*common.items(), *zip((name for name, _, _ in listed), own, strict=True)]


def _apart(
    terms: Iterable[tuple[Fraction | int, Sourced]],
) -> tuple[list[float], dict[str, float]]:
    """Standard uncertainties by each size of its own (none for a coefficient of zero), and by each
    source in common."""
    own = []
    by_source: dict[str, dict[float, Fraction | int]] = {}
    for coefficient, size in terms:
        if not coefficient:
            continue
        own.append(abs(float(coefficient)) * size.own)
        for source, u in size.shared:
            known = by_source.setdefault(source, {})
            known[u] = known[u] + coefficient if u in known else coefficient
    common = {
        source: abs(math.fsum(float(coefficient) * u for u, coefficient in known.items()))
        for source, known in by_source.items()
    }
    return own, common
