"""How much to take from each bore for a wanted clearance with its piston.

Amounts are of diameter. Nothing is put back: a bore that is past its wanted size already says by
how much.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import NamedTuple

from capture.fit.band import Band, checked, target_of
from capture.fit.grid import Forbidden, Grid, Sizes, keyed
from capture.fit.matching import best
from capture.fit.select import Limits
from capture.fit.whole import Key, less, total
from capture.quantity import Number, add, brief, text


class Cut(NamedTuple):
    """What is to be done to one bore for its piston."""

    outer: Key
    inner: Key
    size: Number
    wanted_size: Number
    """The piston with the wanted clearance."""
    amount: Number
    """To be taken, of diameter; 0 where the bore is at or past the wanted size."""
    too_large: Number
    """By how much the bore is past the wanted size already; else 0."""
    too_much: Number
    """By how much the amount exceeds what may be taken; else 0."""
    clearance: Number
    """After the cut."""
    within: bool
    """After the cut the clearance lies in the band, and no more is taken than may be."""

    @property
    def to(self) -> Number | None:
        """The size to hone to; None where nothing is to be taken."""
        return self.wanted_size if self.amount else None

    def sentence(self, unit: str, places: int) -> str:
        """What to do; sizes in ``unit``, which is theirs, with at most ``places`` decimals."""

        def told(size: Number) -> str:
            return f"{brief(size, places)} {unit}"

        if self.too_large:
            held = "still within its band" if self.within else "outside its band"
            return (
                f"Too large already by {told(self.too_large)}: the clearance is "
                f"{told(self.clearance)}, {held}."
            )
        if not self.amount:
            return "At the wanted size: nothing to take."
        done = f"Take {told(self.amount)}, to {told(self.wanted_size)}."
        if self.too_much:
            return f"{done} That is {told(self.too_much)} more than may be taken."
        return done


class Honing(NamedTuple):
    """A cut for every pair, in the order in which the outers were given."""

    cuts: tuple[Cut, ...]
    left_outers: tuple[Key, ...]
    """Bores without a piston."""
    left_inners: tuple[Key, ...]

    @property
    def total(self) -> Number:
        """Everything to be taken."""
        return total(cut.amount for cut in self.cuts)

    @property
    def failing(self) -> tuple[Cut, ...]:
        """Pairs that honing cannot bring into the band."""
        return tuple(cut for cut in self.cuts if not cut.within)


def hone(
    outers: Sizes,
    inners: Sizes,
    pairs: Mapping[int, Key] | Mapping[str, Key] | Mapping[Key, Key],
    band: Limits,
    target: Number | None = None,
    *,
    most: Number | None = None,
) -> Honing:
    """The cut for every pair of ``pairs`` (inner by outer), for the clearance ``target``; the
    middle of the band where it is not stated.

    ``most`` is the greatest amount that may be taken from one bore, where there is such a bound.
    All in one unit. Raises ValueError where the band is crossed or has no target, ``most`` is
    negative, a part is unknown, or an inner stands in two outers.
    """
    wanted = _Wanted(outers, inners, band, target, most)
    for outer, inner in pairs.items():
        if outer not in wanted.outers or inner not in wanted.inners:
            raise ValueError(f"Of the pair {outer} with {inner} one has no size: measure it first.")
    if len(set(pairs.values())) < len(pairs):
        raise ValueError("One inner is paired with two outers: each belongs to one.")
    inner_of: dict[Key, Key] = {}
    inner_of.update(pairs.items())
    return wanted.honing(inner_of)


def least_honing(
    outers: Sizes,
    inners: Sizes,
    band: Limits,
    target: Number | None = None,
    *,
    most: Number | None = None,
    forbidden: Forbidden = (),
) -> Honing:
    """The assignment that needs the least honing in all: as many pairs as can be brought into the
    band, of those the least sum of amounts. A pair that no honing brings into the band is not
    made. Same arguments and errors as ``hone`` and ``capture.fit.assign``.
    """
    wanted = _Wanted(outers, inners, band, target, most)
    grid = Grid(wanted.outers, wanted.inners, [*wanted.band, wanted.target, most], forbidden)
    aim = grid.whole(wanted.target)
    amounts = (aim - grid.clearance).clip(min=0)
    allowed = grid.within(grid.clearance + amounts, wanted.band)
    if most is not None:
        allowed &= amounts <= grid.whole(most)
    return wanted.honing(grid.keys(best(amounts, allowed, worst_first=False)))


class _Wanted:
    """What is asked of every pair."""

    def __init__(
        self,
        outers: Sizes,
        inners: Sizes,
        band: Limits,
        target: Number | None,
        most: Number | None,
    ) -> None:
        if most is not None and most < 0:
            raise ValueError(f"The most that may be taken is {text(most)}: give 0 or more.")
        self.outers, self.inners, self.most = keyed(outers), keyed(inners), most
        self.band: Band = checked(band)
        self.target = target_of(self.band, target)

    def cut(self, outer: Key, inner: Key) -> Cut:
        size, piston = self.outers[outer], self.inners[inner]
        wanted = add(piston, self.target)
        nothing = Decimal(0)
        short = less(wanted, size)
        amount = short if short > 0 else nothing
        over = less(size, wanted) if short < 0 else nothing
        much = less(amount, self.most) if self.most is not None and amount > self.most else nothing
        clearance = less(add(size, amount), piston)
        within = self.band.holds(clearance) and not much
        return Cut(outer, inner, size, wanted, amount, over, much, clearance, within)

    def honing(self, inner_of: dict[Key, Key]) -> Honing:
        taken = set(inner_of.values())
        return Honing(
            tuple(self.cut(outer, inner_of[outer]) for outer in self.outers if outer in inner_of),
            tuple(outer for outer in self.outers if outer not in inner_of),
            tuple(inner for inner in self.inners if inner not in taken),
        )
