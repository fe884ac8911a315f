"""What is known of an error other than from repeats (GUM, JCGM 100:2008, 4.3; from memory): limits
with a shape between them, a certificate, a drift seen, a temperature half known.

Each gives a standard uncertainty in the unit it was asked in, or a named contribution to a budget.
Only correctly rounded operations are used.
"""

from __future__ import annotations

import math

from capture.uncertainty import Contribution


def rectangular(half_width: float) -> float:
    """u of an error anywhere within ±half width alike: a/√3 (4.3.7)."""
    return _size(half_width, "half width") / math.sqrt(3.0)


def triangular(half_width: float) -> float:
    """u of an error within ±half width, likelier near the middle: a/√6 (4.3.9). A sum of two
    rectangular errors of half as much each."""
    return _size(half_width, "half width") / math.sqrt(6.0)


def arcsine(half_width: float) -> float:
    """u of an error that swings between ±half width and lingers at the ends: a/√2. A thermostat's
    cycle (H.1.3.4)."""
    return _size(half_width, "half width") / math.sqrt(2.0)


def certificate(expanded_uncertainty: float, coverage_factor: float) -> float:
    """u of a certificate that states U at k: U/k (4.3.3)."""
    if not coverage_factor > 0:
        raise ValueError(f"coverage factor is {coverage_factor}: a certificate's k is above 0")
    return _size(expanded_uncertainty, "expanded uncertainty") / coverage_factor


def percent(value: float, of_value: float) -> float:
    """The half width of ±``of_value`` percent of a value: a torque tool's 4 % at 50 N·m is 2."""
    return abs(value) * _size(of_value, "percentage") / 100.0


def step(resolution: float) -> float:
    """u of a display that shows whole steps: step/(2√3) (F.2.2.1)."""
    return rectangular(_size(resolution, "resolution") / 2.0)


def drift(seen: float) -> Contribution:
    """What a drift seen between the checks that open and close a set leaves open in each of its
    readings: any of it may have been there already, so anywhere from none to all of it. The root
    mean square of that is |drift|/√3, with nothing corrected."""
    return Contribution("drift", rectangular(abs(seen)), math.inf)


def _size(value: float, what: str) -> float:
    if not 0 <= value < math.inf:
        raise ValueError(f"{what} is {value}: it is a size, not negative and finite")
    return float(value)
