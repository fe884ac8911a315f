"""Control charts and their factors, against printed tables, textbook examples and scipy."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from scipy import integrate, stats

from capture.study.charts import (
    individuals,
    mean_and_deviation,
    mean_and_range,
    mean_and_range_limits,
)
from capture.study.constants import c4, chart_factors, d2, d3
from capture.study.moments import moments
from tests.outside.tables import rows


def rings() -> list[list[Decimal]]:
    """Inside diameters of piston rings, 25 samples of 5: Montgomery, *Introduction to Statistical
    Quality Control*, table 6.3 (``data/piston_rings.csv``)."""
    return [[Decimal(row[f"x{at}"]) for at in range(1, 6)] for row in rows("piston_rings")]


def test_pc_01_factors_of_samples_of_2_to_10() -> None:
    """``data/chart_constants.csv``, a textbook's table of three or four figures: ours lie within
    0.0012 of every entry."""
    table = rows("chart_constants")
    assert [int(row["n"]) for row in table] == list(range(2, 11))
    for row in table:
        n = int(row["n"])
        use = chart_factors(n)
        ours = {
            "A2": use.a2,
            "A3": use.a3,
            "B3": use.b3,
            "B4": use.b4,
            "D3": use.d3,
            "D4": use.d4,
            "c4": c4(n),
            "d2": d2(n),
            "d3": d3(n),
        }
        assert set(ours) == set(row) - {"n"}
        for name, value in ours.items():
            assert value == pytest.approx(float(row[name]), abs=0.0012), (n, name)


def test_factors_known_in_closed_form() -> None:
    """Two and three values (David and Nagaraja, *Order Statistics*; from memory): mean range 2/√π
    and 3/√π; standard deviation of the range of two √(2 − 4/π); c4(2) = √(2/π), c4(3) = √π/2."""
    assert d2(2) == pytest.approx(2 / math.sqrt(math.pi), rel=1e-14)
    assert d2(3) == pytest.approx(3 / math.sqrt(math.pi), rel=1e-14)
    assert d3(2) == pytest.approx(math.sqrt(2 - 4 / math.pi), rel=1e-13)
    assert c4(2) == pytest.approx(math.sqrt(2 / math.pi), rel=1e-14)
    assert c4(3) == pytest.approx(math.sqrt(math.pi) / 2, rel=1e-14)


@pytest.mark.parametrize("n", [2, 5, 10, 25, 100])
def test_factors_by_another_integration(n: int) -> None:
    """The range of normal values is the studentized range with endless degrees of freedom: its mean
    and mean square from scipy's distribution function, by adaptive quadrature."""

    def beyond(w: float) -> float:
        return float(stats.studentized_range.sf(w, n, math.inf))

    mean = integrate.quad(beyond, 0, 12, epsabs=1e-9)[0]
    square = integrate.quad(lambda w: 2 * w * beyond(w), 0, 12, epsabs=1e-9)[0]
    assert d2(n) == pytest.approx(mean, rel=1e-7)
    assert d3(n) == pytest.approx(math.sqrt(square - mean * mean), rel=1e-6)


def test_c4_is_the_mean_of_a_chi_distribution() -> None:
    for n in (2, 7, 30, 500):
        assert c4(n) == pytest.approx(stats.chi.mean(n - 1) / math.sqrt(n - 1), rel=1e-11)


def test_pc_02_row_means_and_deviations() -> None:
    """As printed for samples 1 to 16 on a page that reproduces the table."""
    found = [moments(sample) for sample in rings()[:16]]
    means = (
        "74.010 74.001 74.008 74.003 74.003 73.996 74.000 73.997 "
        "74.004 73.998 73.994 74.001 73.998 73.990 74.006 73.997"
    )
    deviations = (
        "0.0148 0.0075 0.0147 0.0091 0.0122 0.0087 0.0055 0.0123 "
        "0.0055 0.0063 0.0029 0.0042 0.0105 0.0153 0.0073 0.0078"
    )
    assert [one.mean for one in found] == pytest.approx(
        [float(one) for one in means.split()], abs=0.00051
    )
    assert [one.standard_deviation for one in found] == pytest.approx(
        [float(one) for one in deviations.split()], abs=0.000051
    )


def test_pc_03_mean_and_range_limits_of_the_rings() -> None:
    """Mean range from memory of Montgomery; limits from the printed A2 0.577 and D4 2.114."""
    found = mean_and_range(rings())
    assert found.location.centre == pytest.approx(74.0012, abs=0.00005)
    assert found.scatter.centre == pytest.approx(0.02324, abs=0.000005)
    assert found.location.upper == pytest.approx(74.0146, abs=0.00005)
    assert found.location.lower == pytest.approx(73.9878, abs=0.00005)
    assert found.scatter.upper == pytest.approx(0.0491, abs=0.00005)
    assert found.scatter.lower == 0
    assert found.location.outside == ()
    assert found.scatter.outside == ()
    # Mean range over d2: 0.02324 / 2.326 (the same book; recomputed from the table).
    assert found.standard_deviation == pytest.approx(0.00999, abs=0.000005)


def test_pc_04_limits_from_a_summary() -> None:
    """A manufacturing textbook's example (issuhub 5704, p. 257), n 5, k 20: it uses A2 0.577."""
    limits = mean_and_range_limits(0.0022, 0.0356, 5)
    assert limits.upper == pytest.approx(0.0227, abs=0.0001)
    assert limits.lower == pytest.approx(-0.0183, abs=0.0001)
    assert limits.scatter_upper == pytest.approx(0.0753, abs=0.0001)


def test_pc_06_mean_and_deviation_limits_of_the_rings() -> None:
    """Montgomery, example 6.3, which rounds the centres first (from memory)."""
    found = mean_and_deviation(rings())
    assert found.scatter.centre == pytest.approx(0.0094, abs=5e-5)
    assert found.location.upper == pytest.approx(74.014, abs=0.001)
    assert found.location.lower == pytest.approx(73.988, abs=0.001)
    assert found.scatter.upper == pytest.approx(0.0196, abs=1e-4)
    assert found.location.outside == found.scatter.outside == ()


def test_individuals_and_moving_range() -> None:
    """NIST/SEMATECH e-Handbook 6.3.2.2.2, ten flow rates (from memory, and it reproduces):
    mean 50.81, mean moving range 1.8778, limits 55.8041 and 45.8159 with d2 = 1.128."""
    digits = "49.6 47.6 49.9 51.3 47.8 51.2 52.6 52.4 53.6 52.1"
    found = individuals([Decimal(one) for one in digits.split()])
    assert found.location.centre == pytest.approx(50.81, abs=0.005)
    assert found.scatter.centre == pytest.approx(1.8778, abs=0.0001)
    assert found.location.upper == pytest.approx(55.8041, abs=0.005)
    assert found.location.lower == pytest.approx(45.8159, abs=0.005)
    assert found.location.outside == ()
    assert found.scatter.upper == pytest.approx(3.267 * 1.8778, abs=0.002)
