"""Probability of conformance and the two risks (JCGM 106) against published values, scipy's
distributions and draws of numpy."""

from __future__ import annotations

import math

import pytest
from scipy.stats import gamma, multivariate_normal, norm

from capture.risk import (
    Process,
    Zone,
    conformance_probability,
    guard_band_for,
    guarded,
    normal_process,
    process_capability,
    risks,
    specific_risk,
)

UPPER = Zone(None, 2.0)
BALL_BEARINGS = Process(
    lambda size: float(gamma.pdf(size, 4, scale=0.25)), 0.0, 15.0, (0.5, 1.0, 2.0, 4.0)
)


def test_dr_01_ball_bearings() -> None:
    """JCGM 106 9.5.4: radial error motion is gamma(4, scale 1/4) µm, limit 2 µm, u = 0.25 µm.
    github sandialabs/suncal doc/API Examples/Risk - Ball Bearing.ipynb prints 0.04238 out of
    tolerance, 0.00802 falsely accepted (seen)."""
    found = risks(BALL_BEARINGS, 0.25, UPPER, UPPER)
    assert found.nonconforming == pytest.approx(0.0424, abs=1e-4)
    assert found.nonconforming == pytest.approx(float(gamma.sf(2, 4, scale=0.25)), abs=1e-10)
    assert found.consumers == pytest.approx(0.00802, abs=1e-5)


def test_dr_01_guarded_limit_for_one_false_accept_in_a_thousand() -> None:
    """The same notebook prints 1.67183 (seen)."""
    band = guard_band_for(BALL_BEARINGS, 0.25, UPPER, 0.001)
    limit = guarded(UPPER, band).upper
    assert limit == pytest.approx(1.672, abs=1e-3)
    assert limit == pytest.approx(1.67183, abs=1e-5)
    left = risks(BALL_BEARINGS, 0.25, UPPER, guarded(UPPER, band))
    assert left.consumers == pytest.approx(0.001, rel=1e-9)
    assert left.producers > risks(BALL_BEARINGS, 0.25, UPPER, UPPER).producers


@pytest.mark.parametrize(
    ("mean", "capability", "risk"),
    [(10.0, 0.833333, 0.01242), (10.5, 0.416667, 0.10574), (12.0, -0.833333, 0.99379)],
)
def test_dr_02_specific_risk_and_capability(mean: float, capability: float, risk: float) -> None:
    """Limits 9 to 11, N(mean, 0.4): PyPI suncal 1.7.1 sdist test/test_risk.py test_cpk (seen)."""
    limits = Zone(9.0, 11.0)
    assert process_capability(mean, 0.4, limits) == pytest.approx(capability, abs=1e-4)
    assert specific_risk(mean, 0.4, limits) == pytest.approx(risk, abs=1e-4)


@pytest.mark.parametrize(
    ("probability", "z"), [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)]
)
def test_dr_05_distance_from_one_limit_for_a_wanted_probability(
    probability: float, z: float
) -> None:
    """JCGM 106 Table 1 (memory): z of 0.84, 1.28, 1.64, 2.33, 3.09, rounded to two decimals."""
    u = 0.004
    for off in (-0.005, 0.005):
        found = conformance_probability(10.0 - (z + off) * u, u, Zone(None, 10.0))
        assert (found > probability) is (off > 0)


@pytest.mark.parametrize(
    ("in_tolerance", "percent"),
    [
        (0.6, 4.83860326),
        (0.7, 3.92234109),
        (0.8, 2.85583037),
        (0.9, 1.59995312),
        (0.95, 0.87100925),
        (0.99, 0.19991684),
    ],
)
def test_dr_07_false_accept_of_simple_acceptance_at_ratio_four(
    in_tolerance: float, percent: float
) -> None:
    """Limits ±1, u a quarter of the process's s: PyPI suncal 1.7.1 sdist test/test_risk.py
    test_risk_values (draft RP-19 table, seen)."""
    s = 1 / float(norm.ppf((1 + in_tolerance) / 2))
    limits = Zone(-1.0, 1.0)
    found = risks(normal_process(0.0, s), s / 4, limits, limits)
    assert 100 * found.consumers == pytest.approx(percent, abs=1e-4)
    assert 1 - found.nonconforming == pytest.approx(in_tolerance, abs=1e-10)


def test_dr_08_two_sided_conformance_probability() -> None:
    """JCGM 106 7.4 example (memory): viscosity 13.6, u 1.8, limits 12.5 to 16.3: 0.66."""
    found = conformance_probability(13.6, 1.8, Zone(12.5, 16.3))
    assert found == pytest.approx(0.66, abs=0.005)


@pytest.mark.parametrize("value", [8.2, 9.9, 10.0, 10.05, 10.4, 13.0, 30.0])
def test_probabilities_agree_with_scipy_far_into_the_tails(value: float) -> None:
    zone, u = Zone(9.9, 10.1), 0.05
    lower, upper = (9.9 - value) / u, (10.1 - value) / u
    inside = float(norm.cdf(upper) - norm.cdf(lower))
    outside = float(norm.cdf(lower) + norm.sf(upper))
    assert conformance_probability(value, u, zone) == pytest.approx(inside, rel=1e-9, abs=1e-15)
    assert specific_risk(value, u, zone) == pytest.approx(outside, rel=1e-12)


@pytest.mark.parametrize(("mean", "s", "u"), [(0.0, 0.6, 0.1), (0.4, 0.5, 0.25), (0.9, 0.3, 0.3)])
def test_risks_of_a_normal_process_agree_with_the_bivariate_normal(
    mean: float, s: float, u: float
) -> None:
    """True and measured size are jointly normal; scipy has that distribution's function."""
    tolerance, acceptance = Zone(-1.0, 1.0), Zone(-0.9, 0.85)
    both = multivariate_normal([mean, mean], [[s * s, s * s], [s * s, s * s + u * u]])

    def rectangle(true: Zone, seen: Zone) -> float:
        low = [-60.0 if zone.lower is None else zone.lower for zone in (true, seen)]
        high = [60.0 if zone.upper is None else zone.upper for zone in (true, seen)]
        return float(both.cdf(high, lower_limit=low))

    accepted = rectangle(Zone(None, None), acceptance)
    right = rectangle(tolerance, acceptance)
    found = risks(normal_process(mean, s), u, tolerance, acceptance)
    assert found.consumers == pytest.approx(accepted - right, abs=1e-6)
    assert found.producers == pytest.approx(
        rectangle(tolerance, Zone(None, None)) - right, abs=1e-6
    )


def test_risks_agree_with_draws() -> None:
    """A skewed process, drawn by numpy a million times: shares within five standard errors."""
    import numpy as np

    draw = np.random.Generator(np.random.PCG64(20))
    true = draw.gamma(4, 0.25, 1_000_000)
    seen = true + draw.normal(0.0, 0.25, 1_000_000)
    found = risks(BALL_BEARINGS, 0.25, UPPER, UPPER)
    for share, of in (
        (found.consumers, (true > 2) & (seen <= 2)),
        (found.producers, (true <= 2) & (seen > 2)),
    ):
        assert float(of.mean()) == pytest.approx(share, abs=5 * math.sqrt(share / 1_000_000))
