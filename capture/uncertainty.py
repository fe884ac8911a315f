"""How sure a measurement is: standard uncertainties, their combination, and the expanded one.

After the GUM (JCGM 100:2008): independent contributions add as squares (5.1.2), effective degrees
of freedom follow Welch–Satterthwaite (G.4.1), the expanded uncertainty is coverage factor times
combined standard uncertainty (6.2.1). Clause numbers are from memory.

Uncertainties are floats here; sums are exactly rounded (``math.fsum``) and only correctly rounded
operations are used (no powers), so that the same budget gives the same digits on every platform
and in any order.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from decimal import ROUND_HALF_EVEN, ROUND_UP, Context, Decimal
from fractions import Fraction
from typing import Final, NamedTuple

from capture.instrument import Instrument
from capture.quantity import Number, factor

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
    - setting standard, where the instrument is comparative: U over k of what it was set on.

    It is not established without a calibration, or where a comparative gauge was not set or was
    set on a standard whose expanded uncertainty or coverage factor nobody stated.
    Raises UnitError where units do not fit, ValueError for a coverage factor that is not positive.
    """
    calibration = instrument.calibration
    if calibration is None:
        return None
    step = max(
        Fraction(sent_resolution) * factor(sent_unit or instrument.unit, unit),
        Fraction(instrument.resolution) * factor(instrument.unit, unit),
    )
    found = [
        _certified(
            "calibration",
            calibration.expanded_uncertainty,
            calibration.coverage_factor,
            factor(instrument.unit, unit),
        ),
        Contribution("resolution", float(step) / (2.0 * math.sqrt(3.0)), math.inf),
    ]
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
                factor(setting.unit, unit),
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
    if not coverage_factor > 0:
        raise ValueError(f"coverage factor is {coverage_factor}")
    settled = _SETTLED.multiply(Decimal(standard_uncertainty), coverage_factor)
    if not settled:
        return Decimal(0)
    raised = _TWO_DIGITS_UP.plus(settled)
    return Decimal(format(raised.quantize(Decimal(1).scaleb(raised.adjusted() - 1)), "f"))


def _certified(name: str, expanded: Decimal, k: Decimal, size: Fraction) -> Contribution:
    """A certificate's statement as a contribution; ``size`` brings it into the wanted unit."""
    if not k > 0:
        raise ValueError(f"coverage factor of the {name} is {k}")
    return Contribution(name, float(Fraction(expanded) / Fraction(k) * size), math.inf)


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
