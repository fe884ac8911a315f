"""Student's t without a library, beside a library."""

from __future__ import annotations

import pytest
from scipy import stats

from capture.student import log_density, quantile, within

DEGREES = (1, 2, 3, 4, 5, 10, 15, 33, 100, 400)


@pytest.mark.parametrize("degrees", DEGREES)
@pytest.mark.parametrize("outside", [0.3, 0.05, 0.01, 0.0002, 0.00001])
def test_quantile_is_that_of_scipy(degrees: int, outside: float) -> None:
    assert quantile(outside, degrees) == pytest.approx(
        stats.t.isf(outside / 2.0, degrees), rel=1e-10
    )


@pytest.mark.parametrize(
    ("outside", "degrees", "t"),
    [(0.05, 1, 12.706), (0.05, 10, 2.228), (0.01, 10, 3.169), (0.001, 5, 6.869), (0.1, 30, 1.697)],
)
def test_quantile_is_the_printed_one(outside: float, degrees: int, t: float) -> None:
    # NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, critical values of Student's t
    # (from memory), two-sided.
    assert quantile(outside, degrees) == pytest.approx(t, abs=0.0006)


@pytest.mark.parametrize("degrees", DEGREES)
@pytest.mark.parametrize("t", [0.0, 0.7, 2.3, 11.0])
def test_density_and_distribution_are_those_of_scipy(degrees: int, t: float) -> None:
    assert log_density(t, degrees) == pytest.approx(stats.t.logpdf(t, degrees), abs=1e-11)
    assert within(t, degrees) == pytest.approx(1.0 - 2.0 * stats.t.sf(t, degrees), abs=1e-13)


@pytest.mark.parametrize(("outside", "degrees"), [(0.0, 4), (1.0, 4), (-0.1, 4), (0.05, 0)])
def test_what_is_no_share_or_has_no_degrees_is_refused(outside: float, degrees: int) -> None:
    with pytest.raises(ValueError, match=r"share|degrees"):
        quantile(outside, degrees)
