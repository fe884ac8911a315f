"""Checking a torque tool: the order of pulls, ties, what is still wanted, spread, uncertainty."""

from __future__ import annotations

import math
import statistics
from decimal import Decimal
from fractions import Fraction

import pytest

from capture.spec.model import Limits, ToolCheck
from capture.tool_check import Pull, deviation, limits, procedure, settings, verify_tool, within

CHECK = ToolCheck(
    id="torque-tool",
    title="Torque tool",
    unit="N·m",
    tool="wrench",
    maximum=Decimal(200),
    points_percent=(Decimal(20), Decimal(60), Decimal(100)),
    readings=5,
    preloads=5,
    permissible_deviation_percent=Decimal(4),
    plausible=Limits(Decimal(10), Decimal(300)),
    instruments=("torque tester",),
)
GOOD = [
    [Decimal(text) for text in row.split()]
    for row in (
        "39.9 40.1 40.2 40.0 39.8",
        "119.5 120.6 120.1 121.0 119.8",
        "199.0 201.5 200.4 200.0 198.1",
    )
]


def test_preloads_come_first_then_the_points_ascending() -> None:
    order = procedure(CHECK)
    assert order[:5] == tuple(Pull(Decimal(200), None, number) for number in range(1, 6))
    assert order[5] == Pull(Decimal(40), 1, 1)
    assert order[-1] == Pull(Decimal(200), 3, 5)
    assert [pull.setting for pull in order[5:]] == sorted(pull.setting for pull in order[5:])
    assert len(order) == 20


def test_settings_are_plain_and_exact() -> None:
    assert [str(one) for one in settings(CHECK)] == ["40", "120", "200"]
    odd = CHECK.__class__(
        **{
            **{name: getattr(CHECK, name) for name in CHECK.__slots__},
            "maximum": Decimal("33.3"),
            "points_percent": (Decimal("12.5"),),
        }
    )
    assert [str(one) for one in settings(odd)] == ["4.1625"]


def test_a_tie_is_inside_on_both_sides() -> None:
    """Set 104: a reference of 100 is +4 % exactly. Set 96: a reference of 100 is -4 % exactly."""
    assert deviation(Decimal(104), Decimal(100)) == 4
    assert deviation(Decimal(96), Decimal(100)) == -4
    for setting, bound in ((Decimal(104), "lower"), (Decimal(96), "upper")):
        assert within(setting, Decimal(100), Decimal(4))
        assert getattr(limits(setting, Decimal(4)), bound) == 100
        assert str(getattr(limits(setting, Decimal(4)), bound)) == "100"
    assert not within(Decimal(104), Decimal("99.999999"), Decimal(4))
    assert not within(Decimal(96), Decimal("100.000001"), Decimal(4))


def test_limits_without_end_are_rounded_inward() -> None:
    assert limits(Decimal(100), Decimal(4)) == Limits(
        Decimal("96.153846153847"), Decimal("104.166666666666")
    )


def test_a_good_tool() -> None:
    result = verify_tool(CHECK, GOOD)
    assert result.conforming is True
    assert [point.setting for point in result.points] == [40, 120, 200]
    first = result.points[0]
    assert (
        first.mean_deviation
        == sum(
            (Fraction(100 * (40 - reading)) / Fraction(reading) for reading in GOOD[0]), Fraction(0)
        )
        / 5
    )
    assert first.spread == Fraction(max(first.deviations)) - Fraction(min(first.deviations))
    floats = [float(reading) for reading in GOOD[0]]
    expected = 100 * statistics.stdev(floats) / statistics.mean(floats)
    assert first.repeatability == pytest.approx(expected, rel=1e-12)
    assert result.worst == deviation(Decimal(200), Decimal("198.1"))
    assert result.repeatability == max(point.repeatability or 0 for point in result.points)


def test_one_reading_outside_fails_the_tool_at_once() -> None:
    bad = [GOOD[0], [*GOOD[1][:2], Decimal("125.1")]]
    result = verify_tool(CHECK, bad)
    assert [point.conforming for point in result.points] == [True, False, None]
    assert result.points[1].within == (True, True, False)
    assert result.conforming is False


def test_what_is_still_wanted_leaves_it_open() -> None:
    assert verify_tool(CHECK, []).conforming is None
    assert verify_tool(CHECK, []).worst is None
    assert verify_tool(CHECK, [*GOOD[:2], GOOD[2][:4]]).conforming is None


def test_the_uncertainty_of_one_pull() -> None:
    """Root of the squares by hand: repeatability, the reference's 0.6 % at k = 2, half a step."""
    result = verify_tool(CHECK, GOOD, reference_uncertainty_percent=0.6, resolution=Decimal("0.1"))
    point = result.points[0]
    assert point.repeatability is not None
    expected = 2 * math.sqrt(point.repeatability**2 + 0.3**2 + (100 * 0.1 / 40) ** 2 / 12)
    assert point.expanded_uncertainty == pytest.approx(expected, rel=1e-12)
    assert point.degrees_of_freedom is not None
    assert point.degrees_of_freedom > 4
    alone = verify_tool(CHECK, GOOD).points[0]
    assert alone.expanded_uncertainty == pytest.approx(2 * point.repeatability, rel=1e-12)
    assert alone.degrees_of_freedom == pytest.approx(4)
    assert verify_tool(CHECK, [GOOD[0][:1]]).points[0].expanded_uncertainty is None


def test_like_readings_have_no_spread() -> None:
    point = verify_tool(CHECK, [[Decimal(40)] * 5]).points[0]
    assert point.spread == 0
    assert point.repeatability == 0
    assert point.expanded_uncertainty == 0


def test_arguments_are_checked() -> None:
    with pytest.raises(ValueError, match="has 3 points, not 4"):
        verify_tool(CHECK, [*GOOD, []])
    with pytest.raises(ValueError, match="At 40 N·m there are 5 readings, not 6"):
        verify_tool(CHECK, [[Decimal(40)] * 6])
    with pytest.raises(ValueError, match="must be more than 0, not 0"):
        deviation(Decimal(40), Decimal(0))
    with pytest.raises(ValueError, match="setting of a torque tool"):
        limits(Decimal(0), Decimal(4))
    with pytest.raises(ValueError, match="less than 100 %"):
        limits(Decimal(40), Decimal(100))
    with pytest.raises(ValueError, match="uncertainty must be 0 or more"):
        verify_tool(CHECK, GOOD, reference_uncertainty_percent=-1)
