"""A torque tool against a reference, after the procedure of ISO 6789-1.

Five readings at each of 20 %, 60 % and 100 % of the tool's largest setting, ascending, after
preloads at the largest; the deviation is taken against the reference reading, not the setting.
The standard was not at hand: its rules are taken from a tool maker's review sheet of it. How
many points, readings and preloads, and which deviation is permissible, the spec says.

Exact arithmetic decides; ties are inside. Floats begin at the spread and the uncertainty.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import MAX_EMAX, MAX_PREC, MIN_EMIN, Context, Decimal, Inexact
from fractions import Fraction
from typing import Final, NamedTuple

from capture.quantity import Number, exact
from capture.spec.model import Limits, ToolCheck
from capture.uncertainty import Contribution, combine

TEMPERATURE_NOTE: Final = (
    "Tool and reference at one temperature between 18 °C and 28 °C, steady to ±1 °C "
    "(ISO 6789, as a tool maker's review sheet gives it)."
)
_PLACES: Final = 12
_EXACT: Final = Context(prec=MAX_PREC, Emax=MAX_EMAX, Emin=MIN_EMIN, traps=[Inexact])


class Pull(NamedTuple):
    """One pull of the procedure."""

    setting: Decimal
    point: int | None
    """Which test point, from 1; None for a preload, which is not evaluated."""
    number: int
    """Which pull at this setting, from 1."""


class PointResult(NamedTuple):
    """The readings at one test point."""

    setting: Decimal
    readings: tuple[Number, ...]
    deviations: tuple[Number, ...]
    """Percent of each reference reading; exact."""
    within: tuple[bool, ...]
    mean_deviation: Number
    """Percent; exact."""
    spread: Number
    """Largest less smallest deviation, in percentage points; exact."""
    repeatability: float | None
    """Standard deviation of one reading, percent of their mean; None of a single reading."""
    expanded_uncertainty: float | None
    """Of one pull at this setting, percent of the torque, without the mean deviation."""
    degrees_of_freedom: float | None
    """Effective, of the standard uncertainty behind it."""
    complete: bool

    @property
    def conforming(self) -> bool | None:
        """Whether every reading is within; None while some are wanted and none is outside."""
        if not all(self.within):
            return False
        return True if self.complete else None


class ToolResult(NamedTuple):
    """A whole check."""

    points: tuple[PointResult, ...]
    conforming: bool | None
    """Whether every reading at every point is within; None while some are still wanted."""
    worst: Number | None
    """The deviation furthest from nought, percent."""
    repeatability: float | None
    """The largest of the points', percent."""
    expanded_uncertainty: float | None
    """The largest of the points', percent."""


def deviation(setting: Number, reference: Number) -> Number:
    """100 × (setting - reference) / reference, in percent; exact.

    ``reference`` is what the reference instrument showed, in the unit of ``setting``. Raises
    ValueError where it is not above 0.
    """
    if not reference > 0:
        raise ValueError(f"A reference reading must be more than 0, not {reference}.")
    shown = Fraction(reference)
    return exact(100 * (Fraction(setting) - shown) / shown)


def within(setting: Number, reference: Number, percent: Number) -> bool:
    """Whether the deviation is at most ±``percent``; a tie is inside."""
    return abs(Fraction(deviation(setting, reference))) <= Fraction(percent)


def limits(setting: Decimal, percent: Decimal) -> Limits:
    """Between which reference readings a tool set to ``setting`` is within ±``percent``.

    setting / (1 + percent/100) to setting / (1 - percent/100), since the deviation is a part of
    the reference reading. Rounded inward at 12 decimals. Ties stay exact: a limit whose decimals
    end sooner is not rounded at all, and one whose decimals do not end can be no reading of 12
    decimals or fewer, of which rounding inward leaves none out. Raises ValueError where the
    setting is not above 0 or the percentage not between 0 and 100.
    """
    if not setting > 0:
        raise ValueError(f"The setting of a torque tool must be more than 0, not {setting}.")
    if not 0 < percent < 100:
        raise ValueError(
            f"A permissible deviation must be more than 0 % and less than 100 %, not {percent} %."
        )
    size, part = Fraction(setting), Fraction(percent) / 100
    return Limits(_rounded(size / (1 + part), up=True), _rounded(size / (1 - part), up=False))


def _rounded(value: Fraction, *, up: bool) -> Decimal:
    scaled = value * 10**_PLACES
    whole = math.ceil(scaled) if up else math.floor(scaled)
    return _plain(_EXACT.scaleb(Decimal(whole), -_PLACES))


def _plain(value: Decimal) -> Decimal:
    """Without trailing zeros and without an exponent above 0."""
    short = value.normalize(_EXACT)
    places = short.as_tuple().exponent
    return short.quantize(Decimal(1), context=_EXACT) if int(places) > 0 else short


def settings(check: ToolCheck) -> tuple[Decimal, ...]:
    """The test points as settings: each percentage of the maximum, ascending, exact."""
    return tuple(
        _plain(_EXACT.scaleb(_EXACT.multiply(check.maximum, percent), -2))
        for percent in sorted(check.points_percent)
    )


def procedure(check: ToolCheck) -> tuple[Pull, ...]:
    """Every pull in order: the preloads at the maximum, then the points, ascending."""
    preloads = [Pull(check.maximum, None, n) for n in range(1, check.preloads + 1)]
    readings = [
        Pull(setting, point, number)
        for point, setting in enumerate(settings(check), 1)
        for number in range(1, check.readings + 1)
    ]
    return (*preloads, *readings)


def verify_tool(
    check: ToolCheck,
    readings: Sequence[Sequence[Number]],
    *,
    reference_uncertainty_percent: float | None = None,
    reference_coverage_factor: float = 2.0,
    resolution: Number | None = None,
    coverage_factor: float = 2.0,
) -> ToolResult:
    """What the reference readings (in the check's unit) say about the tool.

    ``readings`` has one sequence for each test point, ascending, in the order taken; those still
    to come are left out. ``reference_uncertainty_percent`` is the reference's relative expanded
    uncertainty with its coverage factor, ``resolution`` the reference's step in the check's unit;
    what is not given is not counted. Raises ValueError for too many points or readings, or a
    reading that is not above 0.
    """
    wanted = settings(check)
    if len(readings) > len(wanted):
        raise ValueError(f"This check has {len(wanted)} points, not {len(readings)}.")
    points = []
    for number, setting in enumerate(wanted):
        taken = tuple(readings[number]) if number < len(readings) else ()
        if len(taken) > check.readings:
            raise ValueError(
                f"At {setting} {check.unit} there are {check.readings} readings, not {len(taken)}."
            )
        known = _known(reference_uncertainty_percent, reference_coverage_factor)
        points.append(_point(check, setting, taken, known, resolution, coverage_factor))
    return _overall(tuple(points))


def _overall(points: tuple[PointResult, ...]) -> ToolResult:
    answers = [point.conforming for point in points]
    conforming = False if False in answers else None if None in answers else True
    deviations = [one for point in points for one in point.deviations]
    return ToolResult(
        points,
        conforming,
        max(deviations, key=lambda one: abs(Fraction(one)), default=None),
        _largest([point.repeatability for point in points]),
        _largest([point.expanded_uncertainty for point in points]),
    )


def _largest(values: Sequence[float | None]) -> float | None:
    return max((value for value in values if value is not None), default=None)


def _known(percent: float | None, factor: float) -> list[Contribution]:
    if percent is None:
        return []
    if not (percent >= 0 and factor > 0):
        raise ValueError("The reference's uncertainty must be 0 or more, its factor more than 0.")
    return [Contribution("reference", percent / factor, math.inf)]


def _point(
    check: ToolCheck,
    setting: Decimal,
    taken: tuple[Number, ...],
    known: list[Contribution],
    resolution: Number | None,
    coverage_factor: float,
) -> PointResult:
    deviations = tuple(deviation(setting, reading) for reading in taken)
    exactly = [Fraction(one) for one in deviations]
    contributions = list(known)
    repeatability = None
    if len(taken) > 1:
        repeatability = _spread_percent(taken)
        contributions.append(Contribution("repeatability", repeatability, len(taken) - 1))
    if resolution is not None:
        # Half a step to either side, evenly likely (GUM F.2.2.1).
        step = 100 * float(Fraction(resolution) / Fraction(setting))
        contributions.append(Contribution("resolution", step / math.sqrt(12), math.inf))
    budget = combine(contributions) if repeatability is not None else None
    return PointResult(
        setting,
        taken,
        deviations,
        tuple(abs(one) <= Fraction(check.permissible_deviation_percent) for one in exactly),
        exact(sum(exactly, Fraction(0)) / len(exactly)) if exactly else Decimal(0),
        exact(max(exactly) - min(exactly)) if exactly else Decimal(0),
        repeatability,
        None if budget is None else coverage_factor * budget.standard_uncertainty,
        None if budget is None else budget.degrees_of_freedom,
        len(taken) == check.readings,
    )


def _spread_percent(taken: tuple[Number, ...]) -> float:
    """Standard deviation over the mean of the readings, percent."""
    sizes = [Fraction(reading) for reading in taken]
    mean = sum(sizes, Fraction(0)) / len(sizes)
    variance = sum(((size - mean) ** 2 for size in sizes), Fraction(0)) / (len(sizes) - 1)
    return 100 * math.sqrt(variance / mean**2)
