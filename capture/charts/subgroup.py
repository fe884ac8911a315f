"""Which values of a build belong together in a chart over builds, and which chart that makes.

Of sisters (cylinders 1 to 4) each is one value, the mean of its points: their scatter is that of
making one after the other. Points of a single part differ by the part's form. One value a build
leaves only the step from build to build.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from enum import StrEnum
from fractions import Fraction
from itertools import groupby
from typing import NamedTuple

from capture import shapes
from capture.charts.gather import Measured
from capture.quantity import Number

RANGES_MOST = 10
"""Past this many values a range leaves too much of them unused, and s takes its place (ISO 7870-2;
from memory)."""


class Form(StrEnum):
    """Kinds of chart, by what is drawn."""

    INDIVIDUALS = "individuals"
    """Single values, and their moving ranges."""
    RANGES = "mean-and-range"
    DEVIATIONS = "mean-and-deviation"


class Together(StrEnum):
    """What the values of a build that stand together are."""

    ONE = "one"
    SISTERS = "sisters"
    POINTS = "points"


class Subgroup(NamedTuple):
    """The values of one build for a chart."""

    names: tuple[str, ...]
    """What each is of: a number, or a point."""
    values: tuple[Number, ...]
    mean: Number


def together(one: Measured) -> Together:
    """What stands together of a quantity, by how often a build measures it."""
    if one.numbers > 1:
        return Together.SISTERS
    return Together.POINTS if one.points > 1 else Together.ONE


def subgroup(one: Measured, convert: Callable[[Number], Number]) -> Subgroup:
    """A build's values, ``convert``ed to the unit of the chart."""
    if together(one) is Together.SISTERS:
        names = tuple(str(number) for number in range(1, one.numbers + 1))
        groups = groupby(one.values, lambda value: value.number)
        values = tuple(convert(_mean([value.value for value in of_one])) for _, of_one in groups)
    else:
        names = tuple(value.point for value in one.values)
        values = tuple(convert(value.value) for value in one.values)
    return Subgroup(names, values, _mean(values))


def usual_form(size: int) -> Form:
    """The chart for subgroups of this many values."""
    if size == 1:
        return Form.INDIVIDUALS
    return Form.RANGES if size <= RANGES_MOST else Form.DEVIATIONS


def forms(size: int) -> tuple[Form, ...]:
    """The charts there can be; of more than one value a build its mean may stand for it."""
    if size == 1:
        return (Form.INDIVIDUALS,)
    if size <= RANGES_MOST:
        return (Form.RANGES, Form.DEVIATIONS, Form.INDIVIDUALS)
    return (Form.DEVIATIONS, Form.INDIVIDUALS)


def chance_of_means(groups: Sequence[Sequence[Number]]) -> float | None:
    """How often subgroup means would differ as much as these, or more, by the scatter inside the
    subgroups alone: one-way analysis of variance, groups of equal size of two or more. None where
    nothing scatters inside, or there are fewer than two groups."""
    from scipy.special import fdtrc  # takes long to load

    count, size = len(groups), len(groups[0]) if groups else 0
    if count < 2 or size < 2:
        return None
    means = [Fraction(shapes.mean(group)) for group in groups]
    grand = sum(means) / count
    between = size * sum((mean - grand) ** 2 for mean in means) / (count - 1)
    within = sum(
        (Fraction(value) - mean) ** 2
        for group, mean in zip(groups, means, strict=True)
        for value in group
    ) / (count * (size - 1))
    if not within:
        return None
    return float(fdtrc(count - 1, count * (size - 1), float(between / within)))


def _mean(values: Sequence[Number]) -> Number:
    return values[0] if len(values) == 1 else shapes.mean(values)
