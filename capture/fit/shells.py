"""Which of the bearing shells on hand give the wanted oil clearance, mixed halves included.

Oil clearance = housing bore − upper shell − lower shell − journal, all of diameter, the shells'
thickness at the crown (90° from the split), the housing with its cap tightened. The engine maker
says which shells may be mixed, and by how much.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from enum import StrEnum
from typing import NamedTuple

from capture.fit.band import Band, checked, target_of
from capture.fit.select import Limits
from capture.fit.whole import Key, apart, less
from capture.quantity import Number, text


class Half(StrEnum):
    """Where a shell can go."""

    UPPER = "upper"
    LOWER = "lower"
    EITHER = "either"


class Shell(NamedTuple):
    """A kind of shell."""

    name: str
    thickness: Number
    """At the crown."""
    on_hand: int
    """How many half shells."""
    half: Half = Half.EITHER


class Bearing(NamedTuple):
    """What the shells go between."""

    housing: Number
    journal: Number


class Choice(NamedTuple):
    """Two halves for one bearing."""

    upper: str
    lower: str
    clearance: Number
    miss: Number
    """How far the clearance is from the target; never negative."""
    within: bool
    """The clearance lies in the band."""

    @property
    def mixed(self) -> bool:
        """The halves are of two kinds."""
        return self.upper != self.lower


def choose_shells(
    housing: Number,
    journal: Number,
    shells: Sequence[Shell],
    band: Limits,
    target: Number | None = None,
) -> tuple[Choice, ...]:
    """Every choice of two halves on hand for one bearing, the best first: those in the band, then
    by the miss of the target, then matched halves before mixed ones, then in the order given.

    ``target`` is the middle of the band where it is not stated. All in one unit. Raises ValueError
    for a crossed band, a missing target, a name given twice, or a negative count or thickness.
    """
    limits = checked(band)
    return ranked(Bearing(housing, journal), usable(shells), limits, target_of(limits, target))


def usable(shells: Sequence[Shell]) -> Sequence[Shell]:
    """The shells. Raises ValueError where one of them makes no sense."""
    names = [shell.name for shell in shells]
    for shell in shells:
        if names.count(shell.name) > 1:
            raise ValueError(
                f"Shell {shell.name!r} is listed twice: give it once with all there are."
            )
        if shell.on_hand < 0:
            raise ValueError(f"Shell {shell.name!r} has {shell.on_hand} on hand: give 0 or more.")
        if not shell.thickness > 0:
            raise ValueError(
                f"Shell {shell.name!r} is {text(shell.thickness)} thick: give its thickness at "
                "the crown."
            )
    return shells


def ranked(
    bearing: Bearing, shells: Sequence[Shell], band: Band, target: Number
) -> tuple[Choice, ...]:
    """As ``choose_shells``, the arguments checked already."""
    choices = []
    for upper, lower in _pairs(shells):
        clearance = less(bearing.housing, upper.thickness, lower.thickness, bearing.journal)
        miss = apart(clearance, target)
        choices.append(Choice(upper.name, lower.name, clearance, miss, band.holds(clearance)))
    return tuple(sorted(choices, key=lambda one: (not one.within, one.miss, one.mixed)))


def wanted_total(bearing: Bearing, target: Number) -> Number:
    """What the two halves together should be thick."""
    return less(bearing.housing, bearing.journal, target)


def _pairs(shells: Sequence[Shell]) -> Iterator[tuple[Shell, Shell]]:
    """Uppers with lowers that are on hand, each pair once: where both can go either way, the one
    given first is the upper."""
    for at, one in enumerate(shells):
        for other in shells[at:]:
            if min(one.on_hand, other.on_hand) < 1 or (one is other and one.on_hand < 2):
                continue
            if one.half is not Half.LOWER and other.half is not Half.UPPER:
                yield one, other
            elif other.half is not Half.LOWER and one.half is not Half.UPPER:
                yield other, one


Bearings = Mapping[int, Bearing] | Mapping[str, Bearing] | Mapping[Key, Bearing]
