"""Propagation through any function against published examples and two libraries."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest

from capture.propagation import Input, Shape, agrees, first_order, monte_carlo
from capture.uncertainty import coverage_factor

ROOT_3 = math.sqrt(3)


@pytest.mark.parametrize(("shape", "reach"), [(Shape.NORMAL, 3.92), (Shape.RECTANGULAR, 3.88)])
def test_mu_06_sum_of_four_unit_terms(shape: Shape, reach: float) -> None:
    """JCGM 101 Tables 2 and 3: u = 2.0; 95 % within ±3.92 for normal terms, ±3.88 for rectangular:
    PyPI suncal 1.7.1 sdist test/test_examples.py test_montecarlo (seen)."""
    terms = [Input(name, 0.0, 1.0, shape) for name in "abcd"]
    first = first_order(sum, terms)
    assert first.budget.standard_uncertainty == pytest.approx(2.0, abs=1e-9)
    drawn = monte_carlo(sum, terms, "four unit terms", trials=2_000_000)
    assert drawn.standard_uncertainty == pytest.approx(2.0, abs=0.005)
    assert drawn.lower == pytest.approx(-reach, abs=0.01)
    assert drawn.upper == pytest.approx(reach, abs=0.01)
    assert agrees(first, drawn, 1.96)


LOGARITHM = [Input("x", 0.6, 0.5 / ROOT_3, Shape.RECTANGULAR)]


def log(values: Sequence[Any]) -> Any:
    return np.log(values[0])


def test_mu_11_log_model_to_first_order() -> None:
    """y = ln x, x = 0.6 ± 0.5 rectangular: value −0.511, u 0.481, upper end +0.432 at 1.96: PyPI
    suncal 1.7.1 sdist test/test_examples.py test_NPLlog (NPL DEM-ES-011 Table 9.2, seen)."""
    first = first_order(log, LOGARITHM)
    u = first.budget.standard_uncertainty
    assert first.value == pytest.approx(-0.511, abs=0.001)
    assert u == pytest.approx(0.481, abs=0.001)
    assert u == pytest.approx(0.5 / ROOT_3 / 0.6, rel=1e-9)
    assert first.value + coverage_factor(first.budget, 0.95) * u == pytest.approx(0.432, abs=0.001)


def test_mu_12_log_model_where_first_order_is_not_enough() -> None:
    """The exact distribution of ln x, x rectangular on 0.1 to 1.1, has mean −0.665 and standard
    deviation 0.606 (same source, Monte Carlo row, seen)."""
    drawn = monte_carlo(log, LOGARITHM, "logarithm", trials=2_000_000)
    assert drawn.mean == pytest.approx(-0.665, abs=0.0015)
    assert drawn.standard_uncertainty == pytest.approx(0.606, abs=0.0015)
    # By hand: ln of the 2.5 % and 97.5 % points of x. First order misses both.
    assert drawn.lower == pytest.approx(math.log(0.125), abs=0.005)
    assert drawn.upper == pytest.approx(math.log(1.075), abs=0.005)
    assert not agrees(first_order(log, LOGARITHM), drawn, 1.96)


def end_gauge(values: Sequence[Any]) -> Any:
    standard, difference, expansion, unlike, apart, away = values
    return standard + difference - standard * (unlike * away + expansion * apart)


def test_gum_h1_through_the_whole_model() -> None:
    """GUM (JCGM 100:2008) H.1, nm: 50 000 838, u = 32 (31.7), ν = 16.7; github MSLNZ/GTC
    docs/API/GUM_H1.rst commit 6d606b14 (seen). The comparator is pooled before it enters. H.1.7
    adds the second order: u = 34, which drawing sees by itself."""
    inputs = [
        Input("standard", 50_000_623.0, 25.0, degrees_of_freedom=18),
        Input("comparator", 215.0, math.sqrt(5.8**2 + 3.9**2 + 6.7**2), degrees_of_freedom=25.6),
        Input("expansion", 11.5e-6, 2e-6 / ROOT_3, Shape.RECTANGULAR),
        Input("difference of expansion", 0.0, 1e-6 / ROOT_3, Shape.RECTANGULAR, 50),
        Input("difference of temperature", 0.0, 0.05 / ROOT_3, Shape.RECTANGULAR, 2),
        Input("deviation from 20 °C", -0.1, math.sqrt(0.2**2 + 0.5**2 / 2)),
    ]
    first = first_order(end_gauge, inputs)
    assert first.value == pytest.approx(50_000_838.0, abs=0.5)
    assert first.budget.standard_uncertainty == pytest.approx(31.66, abs=0.02)
    assert first.budget.degrees_of_freedom == pytest.approx(16.7, abs=0.1)
    drawn = monte_carlo(end_gauge, inputs, "end gauge", trials=1_000_000)
    assert drawn.mean == pytest.approx(50_000_838.0, abs=0.5)
    # Student's t of 18 degrees has a standard deviation of √(18/16) of its scale.
    assert 33.5 < drawn.standard_uncertainty < 36.0


Functions = Callable[[Sequence[Any]], Any]
# Formulas as their handbook has them, a line each.
VOLUME: Functions = lambda v: math.pi / 4 * v[0] ** 2 * v[1] / 1000  # noqa: E731
RATIO: Functions = lambda v: (v[0] + v[1]) / v[1]  # noqa: E731  # a formula as its table has it
ROOT: Functions = lambda v: (v[0] * v[0] + v[1] * v[1]) ** 0.5  # noqa: E731
PRELOAD: Functions = lambda v: v[0] / (v[1] * v[2])  # noqa: E731  # a formula as its table has it


@pytest.mark.parametrize(
    ("model", "inputs"),
    [
        (VOLUME, [Input("bore", 88.0, 0.003), Input("stroke", 90.0, 0.02, degrees_of_freedom=6)]),
        (RATIO, [Input("swept", 547.4, 0.1), Input("clearance", 54.0, 0.3, degrees_of_freedom=4)]),
        (ROOT, [Input("x", 3.0, 0.01, degrees_of_freedom=7), Input("y", 4.0, 0.02)]),
        (PRELOAD, [Input("T", 50.0, 1.0), Input("K", 0.2, 0.02), Input("d", 0.01, 1e-5)]),
    ],
)
def test_first_order_agrees_with_gtc_and_uncertainties(
    model: Functions, inputs: list[Input]
) -> None:
    """GTC 1.5 and the package ``uncertainties`` differentiate the operations themselves."""
    from GTC import ureal
    from uncertainties import ufloat

    first = first_order(model, inputs)
    gtc = model([ureal(x.value, x.standard_uncertainty, x.degrees_of_freedom) for x in inputs])
    other = model([ufloat(x.value, x.standard_uncertainty) for x in inputs])
    u = first.budget.standard_uncertainty
    assert first.value == pytest.approx(float(gtc.x), rel=1e-12)
    assert u == pytest.approx(float(gtc.u), rel=1e-7)
    assert u == pytest.approx(float(other.std_dev), rel=1e-7)
    if any(math.isfinite(x.degrees_of_freedom) for x in inputs):
        assert first.budget.degrees_of_freedom == pytest.approx(float(gtc.df), rel=1e-6)


@pytest.mark.parametrize("shape", Shape)
def test_shapes_have_the_moments_of_scipy(shape: Shape) -> None:
    """Each shape against scipy.stats' own, by its quantiles."""
    from scipy import stats

    reference = {
        Shape.NORMAL: stats.norm(),
        Shape.RECTANGULAR: stats.uniform(-ROOT_3, 2 * ROOT_3),
        Shape.TRIANGULAR: stats.triang(0.5, -math.sqrt(6), 2 * math.sqrt(6)),
        Shape.ARCSINE: stats.arcsine(-math.sqrt(2), 2 * math.sqrt(2)),
    }[shape]
    for probability in (0.5, 0.8, 0.95):
        drawn = monte_carlo(
            lambda v: v[0], [Input("x", 0.0, 1.0, shape)], "shapes", 1_000_000, probability
        )
        assert drawn.standard_uncertainty == pytest.approx(1.0, abs=0.004)
        assert drawn.upper == pytest.approx(reference.ppf(0.5 + probability / 2), abs=0.01)
        assert drawn.lower == pytest.approx(reference.ppf(0.5 - probability / 2), abs=0.01)


def test_few_degrees_of_freedom_draw_from_students_t() -> None:
    """JCGM 101 6.4.9 (memory): a mean of repeats is Student's t; 95 % of ν = 5 lie within 2.571
    (GUM Table G.2, memory)."""
    drawn = monte_carlo(
        lambda v: v[0], [Input("x", 0.0, 1.0, degrees_of_freedom=5)], "t", 1_000_000
    )
    assert drawn.upper == pytest.approx(2.571, abs=0.02)
