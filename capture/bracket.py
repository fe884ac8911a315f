"""A size known only between two values: a gap between two feeler leaves, a torque between two
settings.

``lower`` is the largest leaf that goes, or the last setting at which a click tool clicked without
turning the crank; ``upper`` is the smallest leaf that does not go, or the first setting at which
the crank turned. The verdict asks where the *whole* interval lies::

              conforming │ undecided │ nonconforming
    ─────[────────]──────┼───────────┼─────────────────   conforming
    ─────────────[───────┼───]───────┼─────────────────   undecided: a finer step may tell
    ─────────────────────┼───────────┼─[──────]────────   nonconforming

The gate's guard band is for the leaves' or the tool's own uncertainty. The width of the bracket is
not to be put into it: the interval stands for it already.

Everything is exact except ``u``.
"""

from __future__ import annotations

import math
from enum import StrEnum
from fractions import Fraction
from typing import Final, NamedTuple

from capture.check import Gate, Result
from capture.quantity import Number, convert, exact, text


class By(StrEnum):
    """What the two ends were found with. It says which end the size itself may have."""

    LEAVES = "leaves"
    """The size may be that of the leaf that goes, not that of the leaf that does not."""
    SETTINGS = "settings"
    """The torque may be the setting that turned, not the one that clicked before anything moved."""
    EITHER = "either"
    """Not said: both ends are possible."""


class Bracket(NamedTuple):
    """Two values with the size between them, in one unit; None where that side is not known."""

    lower: Number | None
    upper: Number | None
    by: By = By.EITHER

    @property
    def holds_lower(self) -> bool:
        """The size may be ``lower`` itself."""
        return self.by is not By.SETTINGS

    @property
    def holds_upper(self) -> bool:
        """The size may be ``upper`` itself."""
        return self.by is not By.LEAVES

    def contains(self, size: Number) -> bool:
        """Whether the size can be this one."""
        if self.lower is not None and not (
            size >= self.lower if self.holds_lower else size > self.lower
        ):
            return False
        return self.upper is None or (size <= self.upper if self.holds_upper else size < self.upper)

    def inside(self, value: Number) -> bool:
        """Whether ``value`` lies between the ends, so that trying it narrows the bracket."""
        return (self.lower is None or value > self.lower) and (
            self.upper is None or value < self.upper
        )


class Estimate(NamedTuple):
    """The middle of a bracket and how well it is known."""

    mid: Number
    half_width: Number
    u: float
    """Standard uncertainty half_width/√3, any value between the ends as likely as another (GUM,
    JCGM 100:2008, 4.3.7)."""


class Advice(NamedTuple):
    """What would settle an undecided bracket."""

    value: Number | None
    """To be tried next, between the ends; None where no finer step can settle it."""
    sentence: str


_ACTS: Final = {
    By.LEAVES: ("a leaf of ", "it does not go", "it goes"),
    By.SETTINGS: ("a setting of ", "it turns", "it clicks and nothing turns"),
    By.EITHER: ("", "the size is below it", "the size is above it"),
}
"""What is tried; what happens where the size is below it; and where it is above it."""


def checked(bracket: Bracket) -> Bracket:
    """The bracket itself. Raises ValueError where no size can lie between its ends."""
    lower, upper = bracket.lower, bracket.upper
    if lower is None or upper is None or lower < upper:
        return bracket
    if lower == upper and bracket.by is By.EITHER:
        return bracket
    low, high = text(lower), text(upper)
    if bracket.by is By.LEAVES:
        raise ValueError(
            f"A leaf of {low} goes and one of {high} does not: no gap is like that. "
            "Try both leaves again and enter them anew."
        )
    if bracket.by is By.SETTINGS:
        raise ValueError(
            f"The tool clicked at {low} before anything turned, yet it turned at {high}: no torque "
            "is like that. Pull again, raising the setting from below."
        )
    raise ValueError(
        f"The lower end {low} is not below the upper end {high}: enter the bracket anew."
    )


def converted(bracket: Bracket, unit: str, to: str) -> Bracket:
    """The bracket in another unit, exactly. Raises UnitError where it cannot be converted."""
    lower, upper = (None if end is None else convert(end, unit, to) for end in bracket[:2])
    return Bracket(lower, upper, bracket.by)


def narrowed(bracket: Bracket, other: Bracket) -> Bracket:
    """What both brackets of one size leave possible.

    Raises ValueError where they contradict each other, so that no size lies in both.
    """
    lowers = [end for end in (bracket.lower, other.lower) if end is not None]
    uppers = [end for end in (bracket.upper, other.upper) if end is not None]
    by = bracket.by if bracket.by is other.by else By.EITHER
    return checked(Bracket(max(lowers, default=None), min(uppers, default=None), by))


def estimate(bracket: Bracket) -> Estimate:
    """The middle, the half-width and the standard uncertainty of a bracket, in its unit.

    Raises ValueError where one side is not known or the ends are crossed.
    """
    lower, upper = checked(bracket)[:2]
    if lower is None or upper is None:
        known = upper if lower is None else lower
        so_far = "Neither end" if known is None else f"Only one end, {text(known)},"
        raise ValueError(f"{so_far} of this bracket is known: find the value on the other side.")
    low, high = Fraction(lower), Fraction(upper)
    half = (high - low) / 2
    return Estimate(exact((low + high) / 2), exact(half), float(half) / math.sqrt(3))


def combined(found: Estimate, *deviations: Number) -> float:
    """Standard uncertainty of an estimate found with a tool that may deviate by ± each of
    ``deviations``, any value as likely as another; in the estimate's unit (root sum of squares).

    A tool of ±4 % at the middle: ``combined(found, found.mid * 4 / 100)``.
    """
    return math.hypot(found.u, *(float(each) / math.sqrt(3) for each in deviations))


def judge(bracket: Bracket, gate: Gate) -> Result:
    """What the whole interval says: conforming where every size in it conforms, nonconforming
    where it lies wholly outside on one side, else undecided.

    The ends are in the unit of the gate's limits. Raises ValueError where they are crossed.
    """
    lower, upper = checked(bracket)[:2]
    if not gate.evaluated:
        return Result.NOT_EVALUATED
    if _from(lower, gate.acceptance_lower) and _to(upper, gate.acceptance_upper):
        return Result.CONFORMING
    if _past(upper, gate.rejection_lower, 1, bracket.holds_upper):
        return Result.NONCONFORMING
    if _past(lower, gate.rejection_upper, -1, bracket.holds_lower):
        return Result.NONCONFORMING
    return Result.UNDECIDED


def advice(bracket: Bracket, gate: Gate, unit: str) -> Advice | None:
    """Which finer step would settle an undecided bracket, and a sentence that says so; None where
    the bracket is not undecided.

    The value is where the verdict changes; ``capture.leaves.next_finer`` and ``next_setting`` say
    which leaf or setting comes nearest to it.
    """
    if judge(bracket, gate) is not Result.UNDECIDED:
        return None
    seen = _described(bracket, unit)
    bound = _deciding(bracket, gate)
    if bound is None:
        return Advice(None, f"{seen}, {_why_not(bracket, gate)}")
    what, below, above = _ACTS[bracket.by]
    met, missed = (above, below) if bound.low else (below, above)
    if bound.accepts:
        then = "it is not" if not gate.guard_band else "that is not sure"
        outcome = f"Where {met}, that limit is kept; where {missed}, {then}."
    else:
        outcome = f"Where {missed}, it is outside that limit; where {met}, it stays undecided."
    guarded = " with its guard band" if gate.guard_band else ""
    return Advice(
        bound.value,
        f"{seen}, and the {'lower' if bound.low else 'upper'} limit{guarded} lies between: try "
        f"{what}{text(bound.value)} {unit} or as near as can be. {outcome}",
    )


class _Bound(NamedTuple):
    """A boundary of the gate."""

    value: Number
    low: bool
    accepts: bool


def _from(end: Number | None, bound: Number | None) -> bool:
    return bound is None or (end is not None and end >= bound)


def _to(end: Number | None, bound: Number | None) -> bool:
    return bound is None or (end is not None and end <= bound)


def _past(end: Number | None, bound: Number | None, sign: int, holds: bool) -> bool:
    """Whether the bracket ends before it comes to the bound (seen along ``sign``)."""
    if end is None or bound is None:
        return False
    room = (Fraction(bound) - Fraction(end)) * sign
    return room > 0 or (room == 0 and not holds)


def _deciding(bracket: Bracket, gate: Gate) -> _Bound | None:
    """The boundary to try: that of acceptance before that of rejection, the one nearest to the
    middle (or to the only end that is known) where two lie inside."""
    accept = (gate.acceptance_lower, gate.acceptance_upper)
    if accept[0] is not None and accept[1] is not None and accept[0] > accept[1]:
        accept = (None, None)  # too coarse for the tolerance: nothing can be accepted
    for accepts, bounds in ((True, accept), (False, (gate.rejection_lower, gate.rejection_upper))):
        inside = [
            _Bound(bound, low, accepts)
            for low, bound in zip((True, False), bounds, strict=True)
            if bound is not None and bracket.inside(bound)
        ]
        if inside:
            middle = _middle(bracket)
            return min(inside, key=lambda one: abs(Fraction(one.value) - middle))
    return None


def _middle(bracket: Bracket) -> Fraction:
    ends = [Fraction(end) for end in (bracket.lower, bracket.upper) if end is not None]
    return sum(ends, Fraction(0)) / (len(ends) or 1)


def _why_not(bracket: Bracket, gate: Gate) -> str:
    """Why no finer step settles it."""
    for end, bound in zip(bracket[:2], (gate.rejection_upper, gate.rejection_lower), strict=True):
        if end is not None and end == bound and not gate.guard_band:
            return (
                f"and {text(end)} is the limit itself: it is at the limit or past it, and no finer "
                "step will tell. Correct it, or measure it another way."
            )
    return (
        "within the guard band of the limit: a finer step will not settle it. "
        "Use a better known instrument, or have it decided."
    )


def _described(bracket: Bracket, unit: str) -> str:
    lower, upper = bracket.lower, bracket.upper
    if lower is not None and upper is not None:
        return f"It is between {text(lower)} {unit} and {text(upper)} {unit}"
    if lower is not None:
        return f"It is at least {text(lower)} {unit}"
    if upper is not None:
        return f"It is at most {text(upper)} {unit}"
    return "Nothing is known of it"
