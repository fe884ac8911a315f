"""A control chart of one quantity over the builds of one spec.

Control limits say what the scatter of these builds explains; limits of size say what the spec
wants. The two have nothing to do with each other and are kept apart by name everywhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from capture.charts.gather import Gathered, Measured
from capture.charts.signal import Signal, signals
from capture.charts.subgroup import (
    Form,
    Subgroup,
    Together,
    chance_of_means,
    forms,
    subgroup,
    together,
    usual_form,
)
from capture.errors import UnitError
from capture.quantity import Number, convert, exact
from capture.study.charts import (
    Chart,
    Charts,
    individuals,
    mean_and_deviation,
    mean_and_range,
)

LEAST = 3
"""Builds from which limits are computed at all."""
TRIAL_BELOW = 20
"""With fewer builds limits are trial limits. Common practice; ISO 7870-2 wants 20 to 25 subgroups
before limits are kept (from memory)."""


class Point(NamedTuple):
    """One build on the chart."""

    gathered: Gathered
    measured: Measured
    subgroup: Subgroup
    spread: Number | float | None
    """Range or standard deviation of its values; the moving range of single ones, which the first
    build has none of."""
    signals: tuple[Signal, ...]
    spread_signals: tuple[Signal, ...]


class LeftOut(NamedTuple):
    """A build whose values do not go into the chart."""

    gathered: Gathered
    why: str
    """``unfinished``, ``other-size`` (another number of values), ``other-unit`` or
    ``other-limits`` (nothing can be within its limits of size and the newest build's)."""


class SizeLimits(NamedTuple):
    """Limits of size, and the revisions of the spec that have them."""

    lower: str | None
    upper: str | None
    unit: str
    revisions: tuple[str, ...]


class ControlChart(NamedTuple):
    """See the module. Everything in the unit of the newest build's spec."""

    quantity: str
    newest: Measured
    together: Together
    form: Form
    forms: tuple[Form, ...]
    points: tuple[Point, ...]
    left_out: tuple[LeftOut, ...]
    location: Chart | None
    """None with fewer than ``LEAST`` builds."""
    spread: Chart | None
    standard_deviation: float | None
    """Of single values (of means, on a chart of individuals), as the spread gives it."""
    limits: tuple[SizeLimits, ...]
    """Limits of size, newest first; more than one where revisions differ."""

    @property
    def trial(self) -> bool:
        """Whether there are too few builds for limits to be kept."""
        return len(self.points) < TRIAL_BELOW

    def chance(self) -> float | None:
        """See ``chance_of_means``; None on a chart of individuals, and without limits."""
        if self.location is None or self.form is Form.INDIVIDUALS:
            return None
        return chance_of_means([one.subgroup.values for one in self.points])


def chart_of(builds: Iterable[Gathered], quantity: str, form: Form | None = None) -> ControlChart:
    """The chart of a quantity over builds, oldest first.

    ``form`` None: the usual one for what a build gives. Raises KeyError where no build has the
    quantity whole, ValueError where the form does not suit it.
    """
    builds = list(builds)
    newest = next((one.whole[quantity] for one in reversed(builds) if quantity in one.whole), None)
    if newest is None:
        raise KeyError(quantity)
    taken, left_out = _taken(builds, quantity, newest)
    size = len(taken[-1][2].values)
    chosen = usual_form(size) if form is None else form
    if chosen not in forms(size):
        raise ValueError(f"There is no {chosen.value} chart of {size} values a build.")
    charts = None if len(taken) < LEAST else _charts(chosen, [found for _, _, found in taken])
    return ControlChart(
        quantity,
        newest,
        together(newest),
        chosen,
        forms(size),
        tuple(_points(taken, chosen, charts)),
        tuple(left_out),
        None if charts is None else charts.location,
        None if charts is None else charts.scatter,
        None if charts is None else charts.standard_deviation,
        tuple(_limits(taken)),
    )


Taken = tuple[Gathered, Measured, Subgroup]


def _taken(
    builds: Sequence[Gathered], quantity: str, newest: Measured
) -> tuple[list[Taken], list[LeftOut]]:
    taken: list[Taken] = []
    left_out: list[LeftOut] = []
    for one in builds:
        measured = one.whole.get(quantity)
        if measured is None:
            if quantity in one.begun:
                left_out.append(LeftOut(one, "unfinished"))
            continue
        found = _in_unit(measured, newest.unit)
        if found is None:
            left_out.append(LeftOut(one, "other-unit"))
        elif (measured.numbers, measured.points) != (newest.numbers, newest.points):
            left_out.append(LeftOut(one, "other-size"))
        elif _elsewhere(measured, newest):
            left_out.append(LeftOut(one, "other-limits"))
        else:
            taken.append((one, measured, found))
    return taken, left_out


def _in_unit(measured: Measured, unit: str) -> Subgroup | None:
    try:
        return subgroup(measured, lambda value: convert(value, measured.unit, unit))
    except UnitError:
        return None


def _elsewhere(one: Measured, newest: Measured) -> bool:
    """Whether the limits of size of two have nothing in common: as after boring out."""
    lower, upper = (
        None if end is None else Fraction(convert(Fraction(end), one.unit, newest.unit))
        for end in (one.lower, one.upper)
    )
    above = lower is not None and newest.upper is not None and lower > Fraction(newest.upper)
    below = upper is not None and newest.lower is not None and upper < Fraction(newest.lower)
    return above or below


def _charts(form: Form, groups: Sequence[Subgroup]) -> Charts:
    if form is Form.INDIVIDUALS:
        return individuals([one.mean for one in groups])
    make = mean_and_range if form is Form.RANGES else mean_and_deviation
    return make([one.values for one in groups])


def _points(taken: Sequence[Taken], form: Form, charts: Charts | None) -> list[Point]:
    spreads = _spreads(form, [found for _, _, found in taken], charts)
    none: list[tuple[Signal, ...]] = [()] * len(taken)
    marks, spread_marks = none, none
    if charts is not None:
        marks = _signals(charts.location, rows=True)
        spread_marks = _signals(charts.scatter, rows=False)
        spread_marks = none[: len(taken) - len(spread_marks)] + spread_marks
    return [
        Point(*one, spread, mark, spread_mark)
        for one, spread, mark, spread_mark in zip(taken, spreads, marks, spread_marks, strict=True)
    ]


def _signals(chart: Chart, *, rows: bool) -> list[tuple[Signal, ...]]:
    return signals(chart.points, chart.centre, chart.lower, chart.upper, rows=rows)


def _spreads(
    form: Form, groups: Sequence[Subgroup], charts: Charts | None
) -> list[Number | float | None]:
    if form is Form.RANGES:
        return [_apart(max(one.values), min(one.values)) for one in groups]
    if form is Form.DEVIATIONS:
        return list(charts.scatter.points) if charts is not None else [None] * len(groups)
    means = [one.mean for one in groups]
    moving = [_apart(max(pair), min(pair)) for pair in pairwise(means)]
    return [None, *moving]


def _apart(one: Number, two: Number) -> Number:
    return exact(Fraction(one) - Fraction(two))


def _limits(taken: Sequence[Taken]) -> list[SizeLimits]:
    """By their limits, the newest first; builds whose limits follow from another size have none."""
    found: dict[tuple[str | None, str | None, str], dict[str, None]] = {}
    for one, measured, _ in reversed(taken):
        if not measured.follows:
            key = (measured.lower, measured.upper, measured.unit)
            found.setdefault(key, {})[one.revision] = None
    return [SizeLimits(*key, tuple(revisions)) for key, revisions in found.items()]
