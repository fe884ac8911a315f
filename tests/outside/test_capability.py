"""Capability indices against the NIST/SEMATECH handbook and scipy's distributions."""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np
import pytest
from scipy import stats

from capture.spec.model import Limits
from capture.study.capability import capability, performance, summary
from capture.study.moments import moments
from tests.outside.tables import rows

N, MEAN, DEVIATION = 168, 563.03571, 25.38468
LIMITS = Limits(Decimal(460), Decimal(660))


def test_pc_05_indices_of_the_handbook() -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, ppc512: limits 460 to 660, target 560."""
    found = summary(N, MEAN, DEVIATION, LIMITS, Decimal(560))
    got = [found.of(name).value for name in ("Cp", "Cpl", "Cpu", "Cpk", "Cpm")]
    assert got == pytest.approx([1.31313, 1.35299, 1.27327, 1.27327, 1.30384], abs=2e-5)
    _, _, low, high = found.of("Cp")
    assert (low, high) == pytest.approx((1.17234, 1.45372), abs=2e-5)


def test_interval_of_cpk_by_the_handbook_formula() -> None:
    """NIST/SEMATECH e-Handbook 7.1.6: Cpk ± z √(1/(9n) + Cpk²/(2(n − 1))) (formula from memory)."""
    found = summary(N, MEAN, DEVIATION, LIMITS).of("Cpk")
    reach = 1.959964 * math.sqrt(1 / (9 * N) + found.value**2 / (2 * (N - 1)))
    assert (found.low, found.high) == pytest.approx((found.value - reach, found.value + reach))


def test_interval_of_cpm_about_a_target() -> None:
    """Boyles, *Journal of Quality Technology* 23 (1991), formula from memory: Cpm √(χ²/ν) with
    ν = n (1 + ξ²)² / (1 + 2ξ²), ξ = (mean − target)/s; ours takes n − 1 for n."""
    found = summary(40, 10.4, 0.5, Limits(Decimal(8), Decimal(12)), Decimal(10)).of("Cpm")
    assert found.value == pytest.approx(4 / (6 * math.hypot(0.5, 0.4)))
    freedom = 39 * 1.64**2 / 2.28
    ends = [found.value * math.sqrt(stats.chi2.ppf(p, freedom) / freedom) for p in (0.025, 0.975)]
    assert (found.low, found.high) == pytest.approx(tuple(ends))


@pytest.mark.parametrize("level", [0.9, 0.95])
def test_one_sided_interval_is_exact(level: float) -> None:
    """At its ends the index seen is a quantile of the noncentral t (scipy.stats.nct)."""
    found = summary(20, 10.0, 0.5, Limits(Decimal("8.2"), None), level=level)
    assert [one.name for one in found.indices] == ["Cpl", "Cpk"]
    index = found.of("Cpl")
    assert index.value == pytest.approx(1.2)
    scale = 3 * math.sqrt(20)
    tail = (1 - level) / 2
    assert stats.nct.sf(scale * index.value, 19, scale * index.low) == pytest.approx(tail, rel=1e-4)
    assert stats.nct.cdf(scale * index.value, 19, scale * index.high) == pytest.approx(
        tail, rel=1e-4
    )
    assert found.of("Cpk")[1:] == index[1:]


def test_intervals_contain_the_truth_as_often_as_they_say() -> None:
    """2,000 drawn samples of 30, Cp 1.333 and Cpk 1.167: the intervals of Cpk and Cpm
    are approximations, near their stated 95 %."""
    random = np.random.default_rng(4)
    limits, target = Limits(Decimal(-4), Decimal(4)), Decimal(0)
    truth = {"Cp": 4 / 3, "Cpu": 3.5 / 3, "Cpk": 3.5 / 3, "Cpm": 4 / (3 * math.sqrt(1.25))}
    hits = dict.fromkeys(truth, 0)
    draws = 2000
    for sample in random.normal(0.5, 1.0, (draws, 30)):
        found = summary(30, float(sample.mean()), float(sample.std(ddof=1)), limits, target)
        for name, value in truth.items():
            index = found.of(name)
            hits[name] += index.low <= value <= index.high
    for name, count in hits.items():
        assert 0.93 <= count / draws <= 0.97, (name, count / draws)


def test_capability_and_performance_of_the_rings() -> None:
    """Montgomery, *Introduction to Statistical Quality Control*, piston rings of 74.000 ± 0.05 mm:
    Cp 1.67 with the mean range over d2 (0.1 / (6 × 0.00999), from the printed table; ours pools
    variances). Performance takes all readings (ISO 22514-2; from memory)."""
    samples = [[Decimal(row[f"x{at}"]) for at in range(1, 6)] for row in rows("piston_rings")]
    limits = Limits(Decimal("73.95"), Decimal("74.05"))
    inside = capability(samples, limits)
    assert inside.degrees_of_freedom == 100
    pooled = math.sqrt(np.mean([np.var([float(x) for x in one], ddof=1) for one in samples]))
    assert inside.standard_deviation == pytest.approx(pooled)
    assert inside.of("Cp").value == pytest.approx(0.1 / (6 * 0.00999), abs=0.02)
    whole = [value for sample in samples for value in sample]
    found = performance(whole, limits)
    assert [one.name for one in found.indices] == ["Pp", "Ppl", "Ppu", "Ppk"]
    assert found.of("Pp").value == pytest.approx(0.1 / (6 * moments(whole).standard_deviation))
    assert found.degrees_of_freedom == 124
