"""How sure a measurement is: standard uncertainties, their combination, and the expanded one.

After the GUM (JCGM 100:2008): independent contributions add as squares (5.1.2), effective degrees
of freedom follow Welch–Satterthwaite (G.4.1), the expanded uncertainty is coverage factor times
combined standard uncertainty (6.2.1). What is known other than from repeats (certificates, limits,
resolutions) is in ``capture.type_b``. Clause numbers are from memory.

Uncertainties are floats here; sums are exactly rounded (``math.fsum``) and only correctly rounded
operations are used (no powers), so that the same budget gives the same digits on every platform
and in any order.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from decimal import ROUND_HALF_EVEN, ROUND_UP, Context, Decimal
from fractions import Fraction
from statistics import NormalDist
from typing import Final, NamedTuple

from capture.instrument import Instrument
from capture.quantity import Number, unit_step
from capture.student import quantile

_SETTLED: Final = Context(prec=12, rounding=ROUND_HALF_EVEN)
_TWO_DIGITS_UP: Final = Context(prec=2, rounding=ROUND_UP)


class Contribution(NamedTuple):
    """One source of uncertainty."""

    name: str
    standard_uncertainty: float
    degrees_of_freedom: float
    """``math.inf`` where the uncertainty itself is taken as known (rectangular, certificate)."""


class Budget(NamedTuple):
    """Contributions and what they come to together, all in one unit."""

    contributions: tuple[Contribution, ...]
    standard_uncertainty: float
    degrees_of_freedom: float
    """Effective, by Welch–Satterthwaite; not truncated to a whole number."""


class Line(NamedTuple):
    """One line of a budget, as a reader checks it."""

    name: str
    standard_uncertainty: float
    expanded_uncertainty: float
    """Coverage factor times that: what it would come to alone. Not rounded."""
    share: float
    """Of the combined variance, 0 to 1; the shares of a budget add up to 1."""
    degrees_of_freedom: float | None
    """None for infinitely many."""


class Setting(NamedTuple):
    """What a comparative gauge was set on. ``size`` and uncertainty are in ``unit``."""

    standard: str
    size: Decimal
    unit: str
    expanded_uncertainty: Decimal | None
    coverage_factor: Decimal | None


def combine(contributions: Iterable[Contribution]) -> Budget:
    """The contributions as a budget: root sum of squares, Welch–Satterthwaite.

    Raises ValueError for a negative uncertainty, or degrees of freedom that are not positive.
    """
    listed = tuple(contributions)
    for one in listed:
        if not one.standard_uncertainty >= 0 or math.isinf(one.standard_uncertainty):
            raise ValueError(f"standard uncertainty of {one.name} is {one.standard_uncertainty}")
        if not one.degrees_of_freedom > 0:
            raise ValueError(f"degrees of freedom of {one.name} are {one.degrees_of_freedom}")
    total = root_sum([one.standard_uncertainty for one in listed])
    return Budget(listed, total, _effective(listed, total))


def lines(budget: Budget, coverage_factor: Decimal) -> list[Line]:
    """The budget line by line, the largest share first (equal ones in the budget's order).

    Raises ValueError where the coverage factor is not positive.
    """
    _positive(coverage_factor, "coverage factor")
    k, total = float(coverage_factor), budget.standard_uncertainty
    found = []
    for one in budget.contributions:
        u = one.standard_uncertainty
        ratio = u / total if total else 0.0
        degrees = None if math.isinf(one.degrees_of_freedom) else one.degrees_of_freedom
        found.append(Line(one.name, u, k * u, ratio * ratio, degrees))
    return sorted(found, key=lambda line: -line.share)


def coverage_factor(budget: Budget, probability: float) -> float:
    """The factor k that gives the budget this coverage probability (0.95, 0.99): Student's t for
    its effective degrees of freedom, after G.4. See ``student_factor``."""
    return student_factor(probability, budget.degrees_of_freedom)


def student_factor(probability: float, degrees_of_freedom: float) -> float:
    """Student's t within which ±t holds this probability (GUM Table G.2).

    Degrees of freedom are cut to the whole number below (G.4.1), which never makes the factor too
    small; infinitely many give that of the normal distribution. Raises ValueError where the
    probability does not lie between 0 and 1, or there is not one whole degree of freedom.
    """
    if not 0.0 < probability < 1.0:
        raise ValueError(f"a coverage probability of {probability} does not lie between 0 and 1")
    if not degrees_of_freedom >= 1:
        raise ValueError(f"{degrees_of_freedom} degrees of freedom are not enough: take repeats")
    if degrees_of_freedom <= _SERIES_UP_TO:
        return quantile(1.0 - probability, math.floor(degrees_of_freedom))
    return _beyond_the_series(NormalDist().inv_cdf(0.5 + probability / 2), degrees_of_freedom)


_SERIES_UP_TO: Final = 300.0


def _beyond_the_series(z: float, degrees: float) -> float:
    """Student's t from the normal quantile: Abramowitz and Stegun 26.7.5 (from memory); better
    than 1 in 10⁷ for hundreds of degrees of freedom, up to 99.999 %."""
    if math.isinf(degrees):
        return z
    n, square = math.floor(degrees), z * z
    first = z * (square + 1) / 4
    second = z * ((5 * square + 16) * square + 3) / 96
    third = z * (((3 * square + 19) * square + 17) * square - 15) / 384
    return z + (first + (second + third / n) / n) / n


def root_sum(us: Sequence[float]) -> float:
    """Root of the sum of squares: the standard uncertainty of a sum or difference of independent
    quantities, and never too small for a difference of two that share an error (one gauge, one
    setting standard). For a mean of such sizes it is too small: see ``mean_of_shared``."""
    return math.sqrt(math.fsum(u * u for u in us))


def mean_of_shared(us: Sequence[float]) -> float:
    """The standard uncertainty of the mean of sizes taken with one gauge: the mean of theirs.

    What they share (calibration, setting standard) does not average out, so their mean is no surer
    than they are. This is the bound for full correlation (GUM 5.2.2, note 1, from memory), never
    too small whatever part is shared. Raises ValueError where there are none.
    """
    if not us:
        raise ValueError("a mean takes at least one uncertainty")
    return math.fsum(us) / len(us)


def single(
    instrument: Instrument,
    sent_resolution: Decimal,
    unit: str,
    setting: Setting | None,
    *,
    sent_unit: str | None = None,
) -> Budget | None:
    """The budget of one reading, in ``unit``; None where the uncertainty is not established.

    - calibration: the certificate's U over its k;
    - resolution: rectangular over one display step, step/(2√3). ``sent_resolution`` is in
      ``sent_unit`` (the instrument's unit where silent); the coarser of it and the instrument's
      own counts, for digits finer than the gauge resolves are not real;
    - repeatability and drift since calibration, where bench.toml states them: a standard deviation,
      and a half-width (rectangular);
    - setting standard, where the instrument is comparative: U over k of what it was set on.

    It is not established without a calibration, or where a comparative gauge was not set or was
    set on a standard whose expanded uncertainty or coverage factor nobody stated. Leaves have no
    resolution: the step between them is a bracket's.
    Raises UnitError where units do not fit, ValueError for a coverage factor that is not positive.
    """
    calibration = instrument.calibration
    if calibration is None:
        return None
    step = max(
        Fraction(sent_resolution) * unit_step(sent_unit or instrument.unit, unit),
        Fraction(instrument.resolution) * unit_step(instrument.unit, unit),
    )
    found = [
        _certified(
            "calibration",
            calibration.expanded_uncertainty,
            calibration.coverage_factor,
            unit_step(instrument.unit, unit),
        ),
    ]
    if not instrument.leaves:  # a leaf is what it is: the step between leaves is in the bracket
        spread = float(step) / (2.0 * math.sqrt(3.0))
        found.append(Contribution("resolution", spread, math.inf))
    scale = unit_step(instrument.unit, unit)
    if instrument.repeatability is not None:
        spread = float(Fraction(instrument.repeatability) * scale)
        found.append(Contribution("repeatability of the gauge", spread, math.inf))
    if instrument.drift is not None:
        most = float(Fraction(instrument.drift) * scale)
        found.append(Contribution("drift since calibration", most / math.sqrt(3.0), math.inf))
    if instrument.comparative:
        if setting is None or None in (setting.expanded_uncertainty, setting.coverage_factor):
            return None
        assert setting.expanded_uncertainty is not None
        assert setting.coverage_factor is not None
        found.append(
            _certified(
                "setting standard",
                setting.expanded_uncertainty,
                setting.coverage_factor,
                unit_step(setting.unit, unit),
            )
        )
    return combine(found)


def repeated(base: Budget, values: Sequence[Number]) -> Budget:
    """``base`` with the repeatability of the mean of ``values`` added: s/√n, n − 1 degrees.

    ``values``: at least two, in the unit of ``base``. Raises ValueError where there are fewer.
    """
    count = len(values)
    if count < 2:
        raise ValueError(f"repeatability takes at least two values, not {count}")
    sizes = [Fraction(value) for value in values]
    mean = sum(sizes) / count
    variance_of_mean = sum((size - mean) ** 2 for size in sizes) / ((count - 1) * count)
    spread = Contribution("repeatability", math.sqrt(variance_of_mean), float(count - 1))
    return combine((*base.contributions, spread))


def expand(standard_uncertainty: float, coverage_factor: Decimal) -> Decimal:
    """k·u, rounded up to two significant digits; write it with ``quantity.text``.

    The product is first settled to 12 digits, so that the last bit of a float (0.001 is a little
    more than a thousandth) does not raise a digit. Raises ValueError where u is negative or not
    finite, or k is not positive.
    """
    if not 0 <= standard_uncertainty < math.inf:
        raise ValueError(f"standard uncertainty is {standard_uncertainty}")
    _positive(coverage_factor, "coverage factor")
    settled = _SETTLED.multiply(Decimal(standard_uncertainty), coverage_factor)
    if not settled:
        return Decimal(0)
    raised = _TWO_DIGITS_UP.plus(settled)
    return Decimal(format(raised.quantize(Decimal(1).scaleb(raised.adjusted() - 1)), "f"))


def _certified(name: str, expanded: Decimal, k: Decimal, size: Fraction) -> Contribution:
    """A certificate's statement as a contribution; ``size`` brings it into the wanted unit."""
    _positive(k, f"coverage factor of the {name}")
    return Contribution(name, float(Fraction(expanded) / Fraction(k) * size), math.inf)


def _positive(k: Decimal, what: str) -> None:
    if not k > 0:
        raise ValueError(f"{what} is {k}")


def _effective(contributions: Sequence[Contribution], total: float) -> float:
    """Welch–Satterthwaite, in shares of the total so that no fourth power underflows."""
    if not total:
        return math.inf
    parts = []
    for one in contributions:
        share = one.standard_uncertainty / total
        square = share * share
        parts.append(square * square / one.degrees_of_freedom)
    whole = math.fsum(parts)
    return 1.0 / whole if whole else math.inf
