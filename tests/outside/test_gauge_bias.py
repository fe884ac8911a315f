"""Bias and linearity of a gauge, against a published example, scipy and statsmodels."""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from capture.study.bias import band, bias, fit, linearity

# AIAG, Measurement Systems Analysis, chapter III, linearity example: five parts with reference
# values, each measured 12 times. Readings and results from memory; the results reproduce.
LINEARITY = {
    "2.00": "2.7 2.5 2.4 2.5 2.7 2.3 2.5 2.5 2.4 2.4 2.6 2.4",
    "4.00": "5.1 3.9 4.2 5.0 3.8 3.9 3.9 3.9 3.9 4.0 4.1 3.8",
    "6.00": "5.8 5.7 5.9 5.9 6.0 6.1 6.0 6.1 6.4 6.3 6.0 6.1",
    "8.00": "7.6 7.7 7.8 7.7 7.8 7.8 7.8 7.7 7.8 7.5 7.6 7.7",
    "10.00": "9.1 9.3 9.5 9.3 9.4 9.5 9.5 9.5 9.6 9.2 9.3 9.4",
}


def _linearity() -> tuple[list[Decimal], list[list[Decimal]]]:
    return [Decimal(one) for one in LINEARITY], [
        [Decimal(digits) for digits in line.split()] for line in LINEARITY.values()
    ]


def test_linearity_example() -> None:
    references, readings = _linearity()
    biases = [bias(*one) for one in zip(references, readings, strict=True)]
    assert [one.bias for one in biases] == pytest.approx(
        [0.491667, 0.125, 0.025, -0.29167, -0.61667], abs=0.00001
    )
    found = linearity(references, readings)
    assert found.line.slope == pytest.approx(-0.131667, abs=5e-7)
    assert found.line.intercept == pytest.approx(0.736667, abs=5e-7)
    assert found.line.standard_deviation == pytest.approx(0.23954, abs=5e-6)
    assert found.line.r_squared == pytest.approx(0.714, abs=0.0005)
    assert found.line.slope / found.line.slope_error == pytest.approx(-12.043, abs=0.001)
    assert found.line.intercept / found.line.intercept_error == pytest.approx(10.158, abs=0.001)
    assert not found.zero_inside


def test_bias_and_line_agree_with_scipy_and_statsmodels() -> None:
    references, readings = _linearity()
    for reference, group in zip(references, readings, strict=True):
        found = bias(reference, group, 0.9)
        peer = stats.ttest_1samp([float(one) for one in group], float(reference))
        ends = peer.confidence_interval(0.9)
        assert found.p == pytest.approx(peer.pvalue, rel=1e-6)
        assert found.low == pytest.approx(ends.low - float(reference), abs=1e-12)
        assert found.high == pytest.approx(ends.high - float(reference), abs=1e-12)
        assert found.zero_inside == (peer.pvalue >= 0.1)
    x = np.array(
        [float(one) for one, group in zip(references, readings, strict=True) for _ in group]
    )
    y = np.array([float(one) for group in readings for one in group]) - x
    found_line = linearity(references, readings)
    line, peer_line = found_line.line, stats.linregress(x, y)
    assert line.slope == pytest.approx(peer_line.slope)
    assert line.intercept == pytest.approx(peer_line.intercept)
    assert line.slope_error == pytest.approx(peer_line.stderr)
    assert line.intercept_error == pytest.approx(peer_line.intercept_stderr)
    assert line.slope_p == pytest.approx(peer_line.pvalue, rel=1e-6)
    assert line.r_squared == pytest.approx(peer_line.rvalue**2)
    model = sm.OLS(y, sm.add_constant(x)).fit()
    intercept, slope = model.conf_int(0.05)
    assert (found_line.slope_low, found_line.slope_high) == pytest.approx(tuple(slope))
    assert (found_line.intercept_low, found_line.intercept_high) == pytest.approx(tuple(intercept))
    at = np.array([float(one) for one in references])
    peer_band = model.get_prediction(np.column_stack([np.ones_like(at), at])).conf_int(alpha=0.05)
    for point, ends in zip(found_line.band, peer_band, strict=True):
        assert (point.low, point.high) == pytest.approx(tuple(ends))
        assert point.zero_inside == (ends[0] <= 0 <= ends[1])


def test_bias_of_a_single_reference() -> None:
    """AIAG, *Measurement Systems Analysis*, chapter III, bias example: reference 6.00, 15 readings,
    bias 0.0067, s 0.2120, interval −0.1107 to 0.1241 (from memory)."""
    digits = "5.8 5.7 5.9 5.9 6.0 6.1 6.0 6.1 6.4 6.3 6.0 6.1 6.2 5.6 6.0"
    found = bias(Decimal("6.00"), [Decimal(one) for one in digits.split()])
    assert found.bias == pytest.approx(0.0067, abs=0.00005)
    assert found.standard_deviation == pytest.approx(0.2120, abs=0.0001)
    assert found.low == pytest.approx(-0.1107, abs=0.0005)
    assert found.high == pytest.approx(0.1241, abs=0.0005)
    assert found.zero_inside


def test_band_meets_zero_where_the_line_does() -> None:
    """A line exactly through its points has no band, so that zero lies inside only on it."""
    line = fit([Decimal(1), Decimal(2), Decimal(3)], [Decimal(-1), Decimal(0), Decimal(1)])
    assert line.standard_deviation == 0
    assert band(line, 2.0).zero_inside
    assert not band(line, 3.0).zero_inside
