"""Whether the instruments on the bench are fine enough for what a spec tolerates.

For every tolerance and every suitable instrument: the ratio of the tolerance's width to the
expanded uncertainty of one reading, and a sentence where that is too little. A ratio of 4 or more
is often asked for; that figure is common practice, no source, shown here and no verdict. What does
decide is the acceptance zone: where the guard bands leave none, nothing can ever be found
conforming.

A clearance and a formula rest on several instruments, so no single one is set against them:
``left_out`` names them.

Repeatability, drift and temperature are not known before anything is measured, so an uncertainty
here is the least there can be: certificate and resolution, and for a comparative gauge whatever its
setting standard adds comes on top.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final, NamedTuple

from capture.check import TOO_COARSE, gate
from capture.errors import UnitError
from capture.instrument import Instrument
from capture.quantity import convert, factor, text
from capture.spec.limits import span
from capture.spec.lines import Path
from capture.spec.model import Characteristic, Limits, Quantity, Spec
from capture.uncertainty import Setting, expand, single

WANTED_RATIO: Final = 4
"""Common practice, no source."""
_TWO_READINGS: Final = (Quantity.TAPER, Quantity.OUT_OF_ROUND, Quantity.CYLINDRICITY)
_NEVER_NEGATIVE: Final = (Quantity.OUT_OF_ROUND, Quantity.CYLINDRICITY)


class Tolerance(NamedTuple):
    """One thing a spec tolerates between limits, in ``unit``."""

    subject: str
    """``characteristic bore``, ``derived bore-taper``, ``fastener head-bolts, stage final``,
    ``turning test crank-turns``."""
    unit: str
    limits: Limits
    natural_lower: bool
    """Zero counts as its lower end, since it cannot be less (out-of-round)."""
    readings: int
    """How many readings enter it with their full uncertainty: 2 for a difference."""
    instruments: tuple[str, ...]
    path: Path
    """Where it stands in the spec."""


class Fineness(NamedTuple):
    """How one instrument stands to one tolerance."""

    subject: str
    instrument: str
    """Id; empty where no instrument on the bench suits."""
    unit: str
    tolerance: Decimal | None
    """Width between the limits; None where there is only one."""
    expanded_uncertainty: Decimal | None
    """The least it can be; None where it is not established."""
    ratio: float | None
    note: str
    """What its reader must know, as a sentence; empty where all is well."""
    path: Path = ()
    """Where the tolerance stands in the spec."""
    empty: bool = False
    """Whether the guard bands leave nothing that could be found conforming."""

    def to_body(self) -> dict[str, Any]:
        """Strings, numbers and nulls only."""
        u, width = self.expanded_uncertainty, self.tolerance
        return {
            "subject": self.subject,
            "instrument": self.instrument or None,
            "unit": self.unit,
            "tolerance": None if width is None else format(width, "f"),
            "expanded_uncertainty": None if u is None else format(u, "f"),
            "ratio": None if self.ratio is None else round(self.ratio, 3),
            "note": self.note or None,
        }


def fineness(spec: Spec, bench: Iterable[Instrument]) -> list[Fineness]:
    """Every tolerance of ``spec`` with every instrument of ``bench`` that suits it."""
    instruments = list(bench)
    found: list[Fineness] = []
    for one in tolerances(spec):
        suited = [each for each in instruments if each.kind in one.instruments]
        rows = [row for each in suited if (row := _row(spec, one, each)) is not None]
        if not rows:
            kinds = " or ".join(one.instruments)
            note = f"No instrument of the kind {kinds} on this bench shows {one.unit}."
            rows = [Fineness(one.subject, "", one.unit, _width(one), None, None, note, one.path)]
        found += rows
    return found + list(_strangers(spec, instruments))


def left_out(spec: Spec) -> list[str]:
    """Ids of the derived quantities that several instruments serve, which ``fineness`` has no row
    for."""
    served = {one.subject for one in tolerances(spec)}
    return [id_ for id_ in spec.derived if f"derived {id_}" not in served]


def _strangers(spec: Spec, bench: Iterable[Instrument]) -> Iterator[Fineness]:
    """Tool checks of a tool that the bench does not have."""
    there = [each.id for each in bench]
    for one in spec.tool_checks.values():
        if one.tool not in there:
            note = (
                f"No instrument of this bench has the id {one.tool}, the tool that is to be "
                "checked. Mend: correct tool in the spec, or describe it in bench.toml."
            )
            yield Fineness(f"tool check {one.id}", "", one.unit, None, None, None, note)


def tolerances(spec: Spec) -> Iterator[Tolerance]:
    """What ``spec`` wants of single instruments, in its order."""
    for index, size in enumerate(spec.characteristics.values()):
        limits = _usual_limits(spec, size)
        subject = f"characteristic {size.id}"
        path: Path = ("characteristic", index)
        yield Tolerance(subject, size.unit, limits, False, 1, size.instruments, path)
    for index, derived in enumerate(spec.derived.values()):
        if derived.quantity in (*_TWO_READINGS, Quantity.MEAN):
            kinds = spec.characteristics[derived.of[0]].instruments
            natural = derived.quantity in _NEVER_NEGATIVE
            readings = 2 if derived.quantity in _TWO_READINGS else 1
            yield Tolerance(
                f"derived {derived.id}", derived.unit, derived.limits, natural, readings, kinds,
                ("derived", index),
            )  # fmt: skip
    for index, group in enumerate(spec.fasteners.values()):
        for place, stage in enumerate(group.stages):
            subject, where = f"fastener {group.id}, stage {stage.id}", ("stage", place)
            path = ("fastener", index, *where)
            yield Tolerance(subject, stage.unit, stage.limits, False, 1, group.instruments, path)
    for index, test in enumerate(spec.turning_tests.values()):
        subject, path = f"turning test {test.id}", ("turning_test", index)
        yield Tolerance(subject, test.unit, test.limits, False, 1, test.instruments, path)


def _usual_limits(spec: Spec, size: Characteristic) -> Limits:
    """The limits; where they follow from another size by factor, those at its smallest, where
    they are closest together."""
    factors = size.factors
    if factors is None or factors.lower is None or factors.upper is None:
        return size.limits
    source = spec.characteristics.get(factors.of) or spec.derived[factors.of]
    least = source.limits.lower
    if least is None:
        return size.limits
    shares = (factors.lower, factors.upper)
    ends = [convert(share * least, source.unit, size.unit) for share in shares]
    lower, upper = (Decimal(text(Fraction(end), 12)).normalize() for end in ends)
    return Limits(lower, upper)


def _row(spec: Spec, one: Tolerance, instrument: Instrument) -> Fineness | None:
    """None where the instrument does not measure this quantity at all."""
    try:
        factor(instrument.unit, one.unit)
    except UnitError:  # another dimension, or a temperature in another unit
        return None
    width = _width(one)
    u = _standard_uncertainty(instrument, one)
    if u is None:
        note = f"{instrument.id} has no certificate, so its uncertainty is not established."
        return Fineness(one.subject, instrument.id, one.unit, width, None, None, note, one.path)
    expanded = expand(u, spec.decision.coverage_factor)
    ratio = None if width is None or not expanded else float(Fraction(width) / Fraction(expanded))
    empty = _empty(spec, one, expanded)
    note = _note(one, instrument, expanded, ratio, empty)
    return Fineness(
        one.subject, instrument.id, one.unit, width, expanded, ratio, note, one.path, empty
    )


def _standard_uncertainty(instrument: Instrument, one: Tolerance) -> float | None:
    unknown = Setting("", Decimal(0), instrument.unit, Decimal(0), Decimal(1))
    budget = single(instrument, instrument.resolution, one.unit, unknown)
    return None if budget is None else budget.standard_uncertainty * math.sqrt(one.readings)


def _width(one: Tolerance) -> Decimal | None:
    lower, upper = one.limits.lower, one.limits.upper
    if lower is None and one.natural_lower:
        lower = Decimal(0)
    return None if lower is None or upper is None else upper - lower


def _empty(spec: Spec, one: Tolerance, expanded: Decimal) -> bool:
    limits = one.limits
    if one.natural_lower and limits.lower is None:
        # The guard band stands inside the upper limit only: nothing is below zero to be kept out.
        accepted = gate(limits, spec.decision, expanded).acceptance_upper
        return accepted is not None and accepted < 0
    return TOO_COARSE in gate(limits, spec.decision, expanded).notes


def _note(
    one: Tolerance, instrument: Instrument, expanded: Decimal, ratio: float | None, empty: bool
) -> str:
    least = "at least " if instrument.comparative else ""
    uncertainty = f"{least}{expanded:f} {one.unit}"
    if empty:
        return (
            f"{instrument.id} is too coarse: with an expanded uncertainty of {uncertainty} nothing "
            f"can be found conforming within {span(one.limits)} {one.unit}."
        )
    if ratio is not None and ratio < WANTED_RATIO:
        return (
            f"The tolerance is only {ratio:.2g} times the expanded uncertainty of {instrument.id} "
            f"({uncertainty}); {WANTED_RATIO} or more is common practice."
        )
    return ""
