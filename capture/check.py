"""Whether a size conforms: limits, decision rule and expanded uncertainty, made into a gate once
and then asked for every value.

::

        nonconforming │ undecided │      conforming      │ undecided │ nonconforming
    ──────────────────┼─────┼─────┼──────────────────────┼─────┼─────┼────────────────
                     L−w    L    L+w                    U−w    U    U+w

``w`` is the guard band: 0 for ``simple``, g × U for ``guarded``, 1.65 × u with u = U/k for
``iso14253`` (95 % for one limit at a time, ISO 14253-1:2017 from memory). A value on a boundary
belongs to the better side: on U−w it conforms, on U+w it is undecided.

Everything is exact: no boundary is rounded, and a value is compared as it stands.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Final

from capture.quantity import Number, exact
from capture.spec.model import Decision, Limits, Rule


class Result(StrEnum):
    """What a check can say (words of ISO 14253-1, and two of ours)."""

    CONFORMING = "conforming"
    NONCONFORMING = "nonconforming"
    UNDECIDED = "undecided"
    NOT_EVALUATED = "not_evaluated"


NOT_ESTABLISHED: Final = "uncertainty not established"
TOO_COARSE: Final = "instrument too coarse for this tolerance"
NO_LIMITS: Final = "no limits to judge by"

_ISO_14253_FACTOR: Final = Fraction("1.65")
_BELOW_ALL: Final = Decimal("-Infinity")
_ABOVE_ALL: Final = Decimal("Infinity")

_CONFORMING: Final = Result.CONFORMING
_NONCONFORMING: Final = Result.NONCONFORMING
_UNDECIDED: Final = Result.UNDECIDED


@dataclass(frozen=True, slots=True)
class Gate:
    """Limits, rule and uncertainty made ready to judge values in the limits' unit."""

    rule: Rule
    """The rule applied: ``simple`` where the uncertainty is not established, whatever the spec."""
    guard_band: Number | None
    """w; None under the simple rule."""
    notes: tuple[str, ...]
    """What a reader of the verdict must know."""
    acceptance_lower: Number | None
    acceptance_upper: Number | None
    rejection_lower: Number | None
    rejection_upper: Number | None
    evaluated: bool
    """False where there is no limit on either side: every answer is then ``not_evaluated``."""
    _accept_from: Number = field(init=False, repr=False, compare=False)
    _accept_to: Number = field(init=False, repr=False, compare=False)
    _reject_below: Number = field(init=False, repr=False, compare=False)
    _reject_above: Number = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        for name, bound, unlimited in (
            ("_accept_from", self.acceptance_lower, _BELOW_ALL),
            ("_accept_to", self.acceptance_upper, _ABOVE_ALL),
            ("_reject_below", self.rejection_lower, _BELOW_ALL),
            ("_reject_above", self.rejection_upper, _ABOVE_ALL),
        ):
            object.__setattr__(self, name, unlimited if bound is None else bound)

    def judge(self, value: Number) -> Result:
        """Where ``value`` (finite, in the limits' unit) lies."""
        if not self.evaluated:
            return Result.NOT_EVALUATED
        if self._accept_from <= value <= self._accept_to:
            return _CONFORMING
        if self._reject_below <= value <= self._reject_above:
            return _UNDECIDED
        return _NONCONFORMING


def gate(limits: Limits, decision: Decision, expanded: Decimal | None) -> Gate:
    """The gate for ``limits`` under ``decision``.

    ``expanded`` is the expanded uncertainty at the decision's coverage factor, in the limits'
    unit; None where it is not established, and then the limits are taken as they stand and the
    gate says so. Raises ValueError where limits are crossed or a factor makes no sense.
    """
    lower, upper = limits.lower, limits.upper
    if lower is not None and upper is not None and lower > upper:
        raise ValueError(f"lower limit {lower} is above upper limit {upper}")
    rule = Rule.SIMPLE if expanded is None else decision.rule
    guard = _guard_band(rule, decision, expanded)
    band = Fraction(0) if guard is None else guard
    acceptance_lower, acceptance_upper = _moved(lower, band), _moved(upper, -band)
    return Gate(
        rule=rule,
        guard_band=None if guard is None else exact(guard),
        notes=_notes(limits, acceptance_lower, acceptance_upper, expanded),
        acceptance_lower=acceptance_lower,
        acceptance_upper=acceptance_upper,
        rejection_lower=_moved(lower, -band),
        rejection_upper=_moved(upper, band),
        evaluated=not (lower is None and upper is None),
    )


def _guard_band(rule: Rule, decision: Decision, expanded: Decimal | None) -> Fraction | None:
    """w, exactly; None under the simple rule."""
    if expanded is None:
        return None
    if not expanded >= 0:
        raise ValueError(f"expanded uncertainty is {expanded}")
    if rule is Rule.SIMPLE:
        return None
    if rule is Rule.GUARDED:
        if not decision.guard_factor >= 0:
            raise ValueError(f"guard factor is {decision.guard_factor}")
        return Fraction(decision.guard_factor) * Fraction(expanded)
    if not decision.coverage_factor > 0:
        raise ValueError(f"coverage factor is {decision.coverage_factor}")
    return _ISO_14253_FACTOR * Fraction(expanded) / Fraction(decision.coverage_factor)


def _moved(limit: Decimal | None, by: Fraction) -> Number | None:
    if limit is None or not by:
        return limit
    return exact(Fraction(limit) + by)


def _notes(
    limits: Limits, lower: Number | None, upper: Number | None, expanded: Decimal | None
) -> tuple[str, ...]:
    """What the limits and the acceptance zone ``lower``…``upper`` give a reader to know."""
    if limits.lower is None and limits.upper is None:
        return (NO_LIMITS,)
    if expanded is None:
        return (NOT_ESTABLISHED,)
    if lower is not None and upper is not None and lower > upper:
        return (TOO_COARSE,)
    return ()
