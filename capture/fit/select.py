"""Which inner goes into which outer: pistons to bores, journals to shells, pins to rods.

Select fit: parts as they were measured, combined so that every clearance comes as near to its
target as can be.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from capture.fit.band import Band, checked, target_of
from capture.fit.grid import Forbidden, Grid, Sizes, keyed
from capture.fit.matching import best
from capture.fit.whole import Key, apart, less, total
from capture.quantity import Number

Limits = tuple[Number | None, Number | None]
"""Least and greatest clearance; None is unlimited on that side."""


class Pair(NamedTuple):
    """An inner in an outer."""

    outer: Key
    inner: Key
    clearance: Number
    miss: Number
    """How far the clearance is from the target; never negative."""
    within: bool
    """The clearance lies in the band."""


class Proposal(NamedTuple):
    """Parts assigned to each other, in the order in which the outers were given."""

    pairs: tuple[Pair, ...]
    spare_outers: tuple[Key, ...]
    spare_inners: tuple[Key, ...]

    @property
    def worst_miss(self) -> Number:
        """0 where there is no pair."""
        return max((pair.miss for pair in self.pairs), default=Decimal(0))

    @property
    def total_miss(self) -> Number:
        return total(pair.miss for pair in self.pairs)

    @property
    def outside(self) -> tuple[Pair, ...]:
        """The pairs whose clearance is not in the band."""
        return tuple(pair for pair in self.pairs if not pair.within)


class Misfit(NamedTuple):
    """A part that fits none of the others as they are."""

    part: Key
    nearest: Key | None
    """The part of the other kind with which it comes nearest to the band; None: all forbidden."""
    clearance: Number | None
    off: Number | None
    """How far that clearance lies outside the band: negative too tight, positive too loose."""


class Shortfall(NamedTuple):
    """What can be fitted within the band, and what cannot."""

    complete: bool
    """Every part of the fewer kind can have a clearance in the band, all at once."""
    largest: Proposal
    """As many pairs in the band as can be had at once, the best of them; the rest is spare."""
    misfit_outers: tuple[Misfit, ...]
    misfit_inners: tuple[Misfit, ...]


def assign(
    outers: Sizes,
    inners: Sizes,
    band: Limits,
    target: Number | None = None,
    *,
    forbidden: Forbidden = (),
) -> Proposal:
    """Every part of the fewer kind paired (unless forbidden pairs leave it none), so that all
    clearances lie in the band where that can be; then the worst miss of the target is least; then
    the sum of misses. Equal solutions are decided by size and then name, so that the same parts
    always give the same proposal.

    ``target`` is the middle of the band where it is not stated. All in one unit. Raises ValueError
    where the band is crossed or has no target.
    """
    table = _Table(outers, inners, checked(band), target, forbidden)
    pairs = table.best(in_band=True)
    if len(pairs) < min(len(outers), len(inners)):
        pairs = table.best(in_band=False)
    return table.proposal(pairs)


def given_order(
    outers: Sizes, inners: Sizes, band: Limits, target: Number | None = None
) -> Proposal:
    """The first inner in the first outer and so on, as they were given: to compare with."""
    table = _Table(outers, inners, checked(band), target, ())
    return table.proposal(dict(zip(table.outers, table.inners, strict=False)))


def shortfall(
    outers: Sizes,
    inners: Sizes,
    band: Limits,
    target: Number | None = None,
    *,
    forbidden: Forbidden = (),
) -> Shortfall:
    """What of these parts can be fitted within the band, and which parts fit nothing.

    Same arguments and errors as ``assign``.
    """
    table = _Table(outers, inners, checked(band), target, forbidden)
    largest = table.proposal(table.best(in_band=True))
    return Shortfall(
        len(largest.pairs) == min(len(outers), len(inners)),
        largest,
        tuple(table.misfit_outer(outer) for outer in table.outers if not table.fits_row(outer)),
        tuple(table.misfit_inner(inner) for inner in table.inners if not table.fits_column(inner)),
    )


class _Table:
    """Every outer against every inner, in whole steps."""

    def __init__(
        self,
        outers: Sizes,
        inners: Sizes,
        band: Band,
        target: Number | None,
        forbidden: Forbidden,
    ) -> None:
        self.outers, self.inners, self.band = keyed(outers), keyed(inners), band
        self.target = target_of(band, target)
        self.grid = Grid(self.outers, self.inners, [*band, self.target], forbidden)
        self.within = self.grid.within(self.grid.clearance, band)

    def best(self, *, in_band: bool) -> dict[Key, Key]:
        """Inner by outer."""
        misses = abs(self.grid.clearance - self.grid.whole(self.target))
        return self.grid.keys(best(misses, self.within if in_band else self.grid.allowed))

    def fits_row(self, outer: Key) -> bool:
        return bool(self.within[self.grid.rows.index(outer)].any())

    def fits_column(self, inner: Key) -> bool:
        return bool(self.within[:, self.grid.columns.index(inner)].any())

    def pair(self, outer: Key, inner: Key) -> Pair:
        clearance = less(self.outers[outer], self.inners[inner])
        miss = apart(clearance, self.target)
        return Pair(outer, inner, clearance, miss, self.band.holds(clearance))

    def misfit_outer(self, outer: Key) -> Misfit:
        may = self.grid.allowed[self.grid.rows.index(outer)].tolist()
        partners = [inner for inner, ok in zip(self.grid.columns, may, strict=True) if ok]
        return self._misfit(outer, [(inner, self.pair(outer, inner)) for inner in partners])

    def misfit_inner(self, inner: Key) -> Misfit:
        may = self.grid.allowed[:, self.grid.columns.index(inner)].tolist()
        partners = [outer for outer, ok in zip(self.grid.rows, may, strict=True) if ok]
        return self._misfit(inner, [(outer, self.pair(outer, inner)) for outer in partners])

    def _misfit(self, part: Key, with_each: list[tuple[Key, Pair]]) -> Misfit:
        if not with_each:
            return Misfit(part, None, None, None)
        off = [self.band.off(pair.clearance) for _, pair in with_each]
        at = min(range(len(off)), key=lambda place: abs(Fraction(off[place])))
        other, near = with_each[at]
        return Misfit(part, other, near.clearance, off[at])

    def proposal(self, inner_of: Mapping[Key, Key]) -> Proposal:
        taken = set(inner_of.values())
        return Proposal(
            tuple(self.pair(outer, inner_of[outer]) for outer in self.outers if outer in inner_of),
            tuple(outer for outer in self.outers if outer not in inner_of),
            tuple(inner for inner in self.inners if inner not in taken),
        )
