"""The band a clearance is wanted in and the value aimed at."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from capture.fit.whole import less
from capture.quantity import Number, exact, text


class Band(NamedTuple):
    """Least and greatest clearance, in the unit of the sizes; None is unlimited on that side."""

    lower: Number | None
    upper: Number | None

    def holds(self, clearance: Number) -> bool:
        """Whether it lies inside; the ends do."""
        return not self.off(clearance)

    def off(self, clearance: Number) -> Number:
        """How far it lies outside: negative where it is too tight, 0 inside."""
        if self.lower is not None and clearance < self.lower:
            return less(clearance, self.lower)
        if self.upper is not None and clearance > self.upper:
            return less(clearance, self.upper)
        return Decimal(0)


def checked(band: tuple[Number | None, Number | None]) -> Band:
    """The band. Raises ValueError where its ends are crossed."""
    lower, upper = band
    if lower is not None and upper is not None and lower > upper:
        raise ValueError(
            f"The least clearance {text(lower)} is above the greatest {text(upper)}: exchange the "
            "two, or correct the one that is wrong."
        )
    return Band(lower, upper)


def target_of(band: Band, target: Number | None) -> Number:
    """The target, or the middle of the band where none is stated.

    Raises ValueError where it lies outside the band, or none is stated and the band has no middle.
    """
    if target is not None:
        if not band.holds(target):
            raise ValueError(
                f"The wanted clearance {text(target)} lies outside its own band: mend one of them."
            )
        return target
    if band.lower is None or band.upper is None:
        raise ValueError("A band that is open on one side has no middle: state a target.")
    return exact((Fraction(band.lower) + Fraction(band.upper)) / 2)
