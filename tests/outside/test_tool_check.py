"""Checking a torque tool against the rules of ISO 6789-1.

Source of all three: a tool maker's review sheet of ISO 6789 (web page; search words "ISO 6789-1
hand torque tools maximum permissible deviation"), rules seen there, numbers ours: type II class A,
±4 % of the test device's indication above 10 N·m maximum and ±6 % at or below; five preloads at
the maximum; 20, 60 and 100 % of it; 18 °C to 28 °C, steady to ±1 °C.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from capture.spec.model import Limits, ToolCheck
from capture.tool_check import (
    TEMPERATURE_NOTE,
    deviation,
    limits,
    procedure,
    settings,
    verify_tool,
    within,
)

SET = Decimal(100)
READINGS = [Decimal(text) for text in ("96.2", "104.1", "96.1", "104.2")]


def check(points: tuple[str, ...]) -> ToolCheck:
    return ToolCheck(
        id="check",
        title="Check",
        unit="N·m",
        tool="wrench",
        maximum=Decimal(200),
        points_percent=tuple(Decimal(point) for point in points),
        readings=5,
        preloads=5,
        permissible_deviation_percent=Decimal(4),
        plausible=Limits(Decimal(10), Decimal(300)),
        instruments=("torque tester",),
    )


def test_tv_01_deviation_is_taken_against_the_reference_reading() -> None:
    """3.95, -3.939, 4.058, -4.031 (±0.0005); against the setting it would be 3.8, -4.1, 3.9,
    -4.2, and pass and fail the wrong ones."""
    found = [float(deviation(SET, reading)) for reading in READINGS]
    assert found == pytest.approx([3.95, -3.939, 4.058, -4.031], abs=0.0005)


def test_tv_02_verdict_at_four_percent() -> None:
    """Pass, pass, fail, fail: one by one, by the limits of the reading, and in a whole check."""
    expected = [True, True, False, False]
    assert [within(SET, reading, Decimal(4)) for reading in READINGS] == expected
    bounds = limits(SET, Decimal(4))
    assert bounds.lower is not None
    assert bounds.upper is not None
    assert [bounds.lower <= reading <= bounds.upper for reading in READINGS] == expected
    result = verify_tool(check(("50",)), [READINGS])
    assert list(result.points[0].within) == expected
    assert result.conforming is False


def test_tv_03_points_preloads_and_temperature() -> None:
    """A tool of 40 to 200 N·m: 40, 120, 200 N·m, ascending, after five preloads at the maximum."""
    asked = check(("20", "60", "100"))
    assert list(settings(asked)) == [40, 120, 200]
    order = procedure(asked)
    assert [pull.setting for pull in order if pull.point is None] == [200] * 5
    assert [pull.point for pull in order] == [None] * 5 + [1] * 5 + [2] * 5 + [3] * 5
    for words in ("18 °C", "28 °C", "±1 °C"):
        assert words in TEMPERATURE_NOTE
