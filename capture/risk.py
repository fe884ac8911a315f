"""How likely a size conforms, and how often a decision rule is wrong (JCGM 106:2012; clause numbers
from memory).

Two different questions. After one measurement: with what probability does this item conform
(``conformance_probability``; what is left is its specific risk)? Before measuring, for parts as
they come from a process: how many will be accepted though they do not conform (the consumer's
risk), and how many rejected though they do (the producer's)? The first needs only the measurement,
the second also how the parts themselves scatter (``Process``).

Limits are floats here, None where a side is open, and an error of measurement is normal with
standard deviation ``u``. All arguments of one call are in one unit.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Final, NamedTuple

_ROOT_2: Final = math.sqrt(2.0)
_TAILS: Final = 9.0
"""Standard deviations beyond which nothing of a normal distribution is left (1e-19)."""


class Zone(NamedTuple):
    """Between which sizes something holds: the tolerance, or what is accepted."""

    lower: float | None
    upper: float | None


class Process(NamedTuple):
    """How sizes scatter before they are measured."""

    density: Callable[[float], float]
    low: float
    """Nothing of it lies below,"""
    high: float
    """nor above; both finite."""
    marks: tuple[float, ...] = ()
    """Where the density is steep or narrow, so that the integration looks there."""


class Risks(NamedTuple):
    """Shares of all parts, before any is measured (JCGM 106, 9.5)."""

    nonconforming: float
    """Do not conform, whatever is decided."""
    consumers: float
    """Do not conform and are accepted: false accept."""
    producers: float
    """Conform and are not accepted: false reject."""


def conformance_probability(value: float, u: float, tolerance: Zone) -> float:
    """With what probability a size found to be ``value`` lies in the tolerance (JCGM 106, 7.2),
    where nothing else is known of it. ``u`` > 0."""
    _check(u, tolerance)
    return _within(value, u, tolerance)


def specific_risk(value: float, u: float, tolerance: Zone) -> float:
    """With what probability it does not (JCGM 106, 9.3): exact also where that is tiny."""
    _check(u, tolerance)
    below = 0.0 if tolerance.lower is None else _beyond((value - tolerance.lower) / u)
    above = 0.0 if tolerance.upper is None else _beyond((tolerance.upper - value) / u)
    return below + above


def process_capability(mean: float, s: float, tolerance: Zone) -> float:
    """Cpk: the distance from the mean to the nearer limit in units of 3 s. Negative where the mean
    is outside. Raises ValueError where neither side has a limit."""
    _check(s, tolerance)
    rooms = []
    if tolerance.lower is not None:
        rooms.append(mean - tolerance.lower)
    if tolerance.upper is not None:
        rooms.append(tolerance.upper - mean)
    if not rooms:
        raise ValueError("a capability takes a limit on at least one side")
    return min(rooms) / (3.0 * s)


def normal_process(mean: float, s: float) -> Process:
    """Sizes scattered normally."""
    _check(s, Zone(None, None))
    scale = 1.0 / (s * math.sqrt(2.0 * math.pi))

    def density(size: float) -> float:
        z = (size - mean) / s
        return scale * math.exp(-0.5 * z * z)

    marks = tuple(mean + k * s for k in (-6, -3, -1, 0, 1, 3, 6))
    return Process(density, mean - _TAILS * s, mean + _TAILS * s, marks)


def risks(process: Process, u: float, tolerance: Zone, acceptance: Zone) -> Risks:
    """The risks of accepting what measures within ``acceptance``, with an error of measurement of
    standard deviation ``u`` (JCGM 106, 9.5.2).

    Integrated numerically, to about 1e-10 for a smooth density. Raises ValueError where u is not
    positive, limits are crossed, or the density does not come to a whole over its range.
    """
    _check(u, acceptance)
    outside = _nonconforming(process, u, tolerance)
    consumers = _consumers(process, u, tolerance, acceptance)

    def rejected(size: float) -> float:
        return process.density(size) * specific_risk(size, u, acceptance)

    cuts = _cuts(process, u, acceptance)
    return Risks(outside, consumers, _integral(process, rejected, tolerance, cuts)[1])


def _nonconforming(process: Process, u: float, tolerance: Zone) -> float:
    """The share that does not conform; raises ValueError for what is no density."""
    _check(u, tolerance)
    below, inside, above = _integral(process, process.density, tolerance, process.marks)
    total = below + inside + above
    if abs(total - 1.0) > 1e-6:
        raise ValueError(
            f"the density adds up to {total:.6g} between {process.low} and {process.high}, not to "
            "1: widen the range, or mark where it is narrow"
        )
    return below + above


def _consumers(process: Process, u: float, tolerance: Zone, acceptance: Zone) -> float:
    def accepted(size: float) -> float:
        return process.density(size) * _within(size, u, acceptance)

    cuts = _cuts(process, u, acceptance)
    below, _, above = _integral(process, accepted, tolerance, cuts, inside=False)
    return below + above


def guarded(tolerance: Zone, guard_band: float) -> Zone:
    """The acceptance zone that lies ``guard_band`` inside every limit; empty zones have no room
    between their ends. A negative one lies outside (JCGM 106, 8.3)."""
    lower = None if tolerance.lower is None else tolerance.lower + guard_band
    upper = None if tolerance.upper is None else tolerance.upper - guard_band
    return Zone(lower, upper)


def guard_band_for(process: Process, u: float, tolerance: Zone, consumers: float) -> float:
    """The least guard band, from every limit alike, at which the consumer's risk is no more than
    ``consumers``; 0 where it is no more without one.

    Raises ValueError where that is not a share between 0 and 1, or where not even an acceptance
    zone closed to a point keeps it.
    """
    from scipy.optimize import brentq

    if not 0.0 < consumers < 1.0:
        raise ValueError(f"a risk of {consumers} does not lie between 0 and 1")

    _nonconforming(process, u, tolerance)

    def excess(guard_band: float) -> float:
        return _consumers(process, u, tolerance, guarded(tolerance, guard_band)) - consumers

    if excess(0.0) <= 0.0:
        return 0.0
    widest = _widest(tolerance, u)
    if excess(widest) > 0.0:
        raise ValueError(f"no guard band keeps the consumer's risk to {consumers}: take a finer u")
    return float(brentq(excess, 0.0, widest, xtol=1e-12 * widest, rtol=1e-14))


def _widest(tolerance: Zone, u: float) -> float:
    """The largest guard band there is: half of a two-sided tolerance; on one side where nothing
    nonconforming is accepted any more."""
    if tolerance.lower is not None and tolerance.upper is not None:
        return (tolerance.upper - tolerance.lower) / 2.0
    return 2.0 * _TAILS * u


def _integral(
    process: Process,
    of: Callable[[float], float],
    tolerance: Zone,
    cuts: Sequence[float],
    *,
    inside: bool = True,
) -> tuple[float, float, float]:
    """``of`` integrated below, inside (0 where not asked for) and above the tolerance."""
    from scipy.integrate import quad

    low, high = process.low, process.high
    start = low if tolerance.lower is None else min(max(tolerance.lower, low), high)
    stop = high if tolerance.upper is None else min(max(tolerance.upper, low), high)

    def between(left: float, right: float) -> float:
        ends = [left, *sorted(cut for cut in set(cuts) if left < cut < right), right]
        pairs = [pair for pair in pairwise(ends) if pair[0] < pair[1]]
        return math.fsum(quad(of, a, b, epsabs=1e-13, epsrel=1e-11, limit=200)[0] for a, b in pairs)

    return between(low, start), between(start, stop) if inside else 0.0, between(stop, high)


def _cuts(process: Process, u: float, acceptance: Zone) -> Sequence[float]:
    """Where the integrand may be steep: near acceptance limits, and where the process says."""
    found = list(process.marks)
    for limit in acceptance:
        if limit is not None:
            found += [limit + k * u for k in (-6, -3, -1, 0, 1, 3, 6)]
    return found


def _within(value: float, u: float, zone: Zone) -> float:
    """Probability of a normal error putting ``value`` into the zone, without cancelling digits."""
    low = -math.inf if zone.lower is None else (zone.lower - value) / u
    high = math.inf if zone.upper is None else (zone.upper - value) / u
    if low > 0:
        return max(0.0, _beyond(low) - _beyond(high))
    if high < 0:
        return max(0.0, _beyond(-high) - _beyond(-low))
    return max(0.0, 1.0 - _beyond(-low) - _beyond(high))


def _beyond(z: float) -> float:
    """Share of a normal distribution beyond ``z`` standard deviations."""
    return 0.5 * math.erfc(z / _ROOT_2)


def _check(u: float, zone: Zone) -> None:
    if not 0 < u < math.inf:
        raise ValueError(f"standard uncertainty is {u}: it must be above 0 and finite")
    if zone.lower is not None and zone.upper is not None and zone.lower > zone.upper:
        raise ValueError(f"lower limit {zone.lower} is above upper limit {zone.upper}")
