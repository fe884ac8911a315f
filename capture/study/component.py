"""What a gauge study's variation is made of, and each part's share of it.

Repeatability is what one appraiser and gauge give on one sample; appraiser variation what differs
between appraisers; then their interaction with the samples; gauge, the three together; what
differs between samples; and all of it (AIAG, *Measurement Systems Analysis*, 4th ed., chapter III).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final, NamedTuple

from capture.quantity import Number
from capture.study.interval import Interval

TITLES: Final = {
    "repeatability": "repeatability",
    "between_appraisers": "appraiser variation",
    "interaction": "interaction of appraiser and sample",
    "gauge": "repeatability and reproducibility",
    "between_samples": "sample variation",
    "total": "total variation",
}
SPREAD: Final = 6.0
"""Standard deviations that are set against the tolerance: 99.73 % of a normal distribution."""
_DISTINCT: Final = 1.41
"""As the manual prints it, for √2."""


class Wanted(NamedTuple):
    """What shares and intervals are asked for."""

    tolerance: Number | None = None
    """Width of the tolerance the gauge is to serve, in the unit of the readings."""
    spread: float = SPREAD
    """Standard deviations that are set against it."""
    level: float = 0.95
    """Of the confidence intervals, two-sided."""


USUAL: Final = Wanted()


class Component(NamedTuple):
    """One part of the variation, as a standard deviation in the unit of the readings."""

    id: str
    title: str
    standard_deviation: float
    low: float | None
    """Ends of its confidence interval; None where none is given."""
    high: float | None
    degrees_of_freedom: float | None
    percent_of_all_variation: float | None
    """100 × it / total; these do not add to 100, for it is the squares that add."""
    percent_of_variance: float | None
    """The same of variances, which do."""
    percent_of_tolerance: float | None
    """100 × spread × it / tolerance."""


class Estimate(NamedTuple):
    """A variance, its interval, and its (effective) degrees of freedom."""

    variance: float
    interval: Interval | None = None
    degrees_of_freedom: float | None = None


class Variation(NamedTuple):
    """All the parts that a study can tell apart."""

    components: tuple[Component, ...]
    sizes_told_apart: int | None
    """Groups of samples the gauge can tell apart, ⌊1.41 samples / gauge⌋. None where samples were
    not compared, or the gauge showed no variation of its own (then there is no end to them)."""

    def of(self, name: str) -> Component:
        """The part with this id. Raises KeyError where the study cannot tell it."""
        for component in self.components:
            if component.id == name:
                return component
        raise KeyError(name)


def variation(estimates: Mapping[str, Estimate], wanted: Wanted) -> Variation:
    """Parts with their shares, in the order of ``TITLES``. A variance estimated as negative is 0.

    Without ``total`` no share of it is given. Raises ValueError for a tolerance or spread that is
    not above 0.
    """
    _check(wanted)
    sizes = {name: math.sqrt(max(0.0, one.variance)) for name, one in estimates.items()}
    whole = sizes.get("total")
    components = tuple(
        _component(name, estimates[name], sizes[name], whole, wanted)
        for name in TITLES
        if name in estimates
    )
    categories = None
    if "between_samples" in sizes and sizes.get("gauge"):
        categories = math.floor(_DISTINCT * sizes["between_samples"] / sizes["gauge"])
    return Variation(components, categories)


def _check(wanted: Wanted) -> None:
    if wanted.tolerance is not None and not wanted.tolerance > 0:
        raise ValueError(f"The width of a tolerance is above 0, not {wanted.tolerance}.")
    if not wanted.spread > 0:
        raise ValueError(f"The spread set against a tolerance is above 0, not {wanted.spread}.")


def _component(
    name: str, estimate: Estimate, size: float, whole: float | None, wanted: Wanted
) -> Component:
    ends = estimate.interval
    tolerance = wanted.tolerance
    return Component(
        id=name,
        title=TITLES[name],
        standard_deviation=size,
        low=None if ends is None else math.sqrt(ends.low),
        high=None if ends is None else math.sqrt(ends.high),
        degrees_of_freedom=estimate.degrees_of_freedom,
        percent_of_all_variation=100 * size / whole if whole else None,
        percent_of_variance=100 * (size / whole) ** 2 if whole else None,
        percent_of_tolerance=(
            None if tolerance is None else 100 * wanted.spread * size / float(tolerance)
        ),
    )
