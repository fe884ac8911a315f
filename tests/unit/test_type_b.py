"""Standard uncertainties from what is known other than by repeats."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from capture.type_b import arcsine, certificate, drift, percent, rectangular, step, triangular


def test_what_each_gives() -> None:
    assert rectangular(3.0) == pytest.approx(math.sqrt(3))
    assert triangular(6.0) == pytest.approx(math.sqrt(6))
    assert arcsine(2.0) == pytest.approx(math.sqrt(2))
    assert certificate(0.0020, 2) == 0.001
    assert percent(-50.0, 4.0) == 2.0
    assert step(0.001) == pytest.approx(0.001 / math.sqrt(12))


def test_a_drift_counts_whichever_way_it_went() -> None:
    assert drift(-0.003) == drift(0.003)
    assert drift(0.003).standard_uncertainty == pytest.approx(0.003 / math.sqrt(3))
    assert drift(0.003).degrees_of_freedom == math.inf


def test_a_drift_is_the_root_mean_square_of_all_it_may_have_been() -> None:
    """Of a thousand readings, the first with none of it and the last with all."""
    squares = [(0.003 * n / 1000) ** 2 for n in range(1001)]
    mean = math.sqrt(sum(squares) / len(squares))
    assert drift(0.003).standard_uncertainty == pytest.approx(mean, rel=1e-3)


@pytest.mark.parametrize("odd", [-0.1, math.nan, math.inf])
@pytest.mark.parametrize(
    "function",
    [rectangular, triangular, arcsine, step, lambda u: certificate(u, 2), lambda u: percent(1, u)],
)
def test_what_is_no_size_is_an_error(function: Callable[[float], float], odd: float) -> None:
    with pytest.raises(ValueError, match="it is a size"):
        function(odd)


@pytest.mark.parametrize("k", [0.0, -2.0, math.nan])
def test_a_certificate_has_a_positive_coverage_factor(k: float) -> None:
    with pytest.raises(ValueError, match="coverage factor"):
        certificate(0.002, k)
