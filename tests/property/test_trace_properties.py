"""Any pull: the plain reading agrees, scale and zero change nothing, kept digits come back."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from capture.spec.model import ToolCheck
from capture.tool_check import deviation, limits, procedure, verify_tool, within
from capture.trace import (
    Trace,
    Written,
    analyse_pull,
    analyse_turning,
    canonical,
    compress,
    digest,
    digest_of,
    digits,
    expand,
)
from simulators.waveforms import KINDS, Sensor, Wave, pull, tightening
from tests.unit.test_tool_check import CHECK
from tests.unit.test_trace_plain import assert_agrees

WORDS = st.text("abcdefgh", min_size=1, max_size=6)
DECIMALS = st.from_regex(r"-?(0|[1-9][0-9]{0,8})(\.[0-9]{1,8})?", fullmatch=True)


@st.composite
def waves(draw: st.DrawFn, *, noise: float | None = None) -> Wave:
    sensor = Sensor(
        rate=draw(st.sampled_from([50.0, 73.0, 100.0, 200.0, 400.0])),
        offset=draw(st.floats(-5, 5)),
        noise=draw(st.sampled_from([0.0, 0.005, 0.02])) if noise is None else noise,
        normal=draw(st.booleans()),
        phase=draw(st.floats(0, 0.99)),
        step=draw(st.sampled_from([0.0, 0.01])),
    )
    kind, target = draw(st.sampled_from(KINDS)), draw(st.floats(5, 300))
    how = tightening(kind, target)
    how = replace(how, drop=draw(st.floats(0.05, 0.5)), go_on=draw(st.floats(0.8, 1.3)))
    return pull(how, sensor, draw(WORDS))


@given(waves())
@settings(max_examples=40, deadline=None)
def test_the_plain_reading_agrees(wave: Wave) -> None:
    assert_agrees(wave.seconds, wave.torques)


@given(waves(), st.integers(-6, 6), st.integers(-1000, 1000))
@settings(max_examples=40, deadline=None)
def test_a_unit_twice_as_large_and_a_later_clock_change_nothing(
    wave: Wave, power: int, later: int
) -> None:
    """Powers of two scale floats exactly, so the findings must be the very same."""
    scale = 2.0**power
    # Binary times survive being moved, as decimal ones would not.
    times = [round(at * 2**20) / 2**20 for at in wave.seconds]
    here = analyse_pull(Trace(times, wave.torques, None, "N·m"))
    there = analyse_pull(
        Trace([at + later for at in times], [t * scale for t in wave.torques], None, "N·m")
    )
    assert [f.code for f in there.findings] == [f.code for f in here.findings]
    assert [c.sample for c in there.clicks] == [c.sample for c in here.clicks]
    assert [c.torque for c in there.clicks] == [c.torque * scale for c in here.clicks]
    assert [c.at for c in there.clicks] == [c.at + later for c in here.clicks]


TINY = [5e-324, -5e-324, 1e-310, 2.3e-308, 1e-160]
"""Floats whose squares, parts or ratios are no floats any more."""


@given(
    st.lists(st.floats(-1e6, 1e6) | st.sampled_from(TINY), min_size=3, max_size=60),
    st.floats(1e-4, 0.5),
)
@example([0.0, 0.0, 5e-324], 0.5)  # the smallest float: a part of it is zero
@settings(max_examples=150, deadline=None)
def test_any_samples_give_an_answer(torques: list[float], interval: float) -> None:
    times = [number * interval for number in range(len(torques))]
    found = analyse_pull(Trace(times, torques, None, "N·m"))
    for click in found.clicks:
        assert click.torque > click.low
        assert click.fall >= 0.1 - 1e-9
    angles = [10.0 * at for at in times]
    turned = analyse_turning(Trace(times, torques, angles, "N·m"))
    if turned.ripple is not None:
        assert turned.ripple.torque >= 0


@given(st.lists(st.tuples(DECIMALS, DECIMALS), min_size=3, max_size=40), st.booleans())
def test_digits_come_back_as_sent(pairs: list[tuple[str, str]], angled: bool) -> None:
    times = [f"{number}.5" for number in range(len(pairs))]
    torques, angles = zip(*pairs, strict=True)
    sent = Written(times, list(torques), list(angles) if angled else None, "lbf·ft")
    blob = compress(sent)
    back = digits(blob)
    assert back.torque == sent.torque
    assert back.angle == sent.angle
    assert canonical(back) == canonical(sent)
    assert digest_of(blob) == digest(sent)
    floats = [float(text) for text in torques]
    assert list(map(repr, expand(blob).torque)) == list(map(repr, floats))  # repr tells -0.0


@given(st.lists(st.floats(-1e9, 1e9).filter(lambda x: not x or abs(x) > 1e-90), min_size=3))
def test_floats_come_back_as_the_same_floats(torques: list[float]) -> None:
    trace = Trace([number / 1000 for number in range(len(torques))], torques, None, "N·m")
    assert expand(compress(trace)) == trace


@given(st.binary(max_size=200))
def test_any_bytes_are_refused_in_words(blob: bytes) -> None:
    with pytest.raises(ValueError, match="trace"):
        expand(blob)


SETTINGS = st.decimals("0.01", "2000", places=2)
PERCENTS = st.decimals("0.1", "30", places=1)


@given(SETTINGS, PERCENTS, st.decimals("0.5", "1.6", places=6))
def test_the_limits_say_what_the_deviation_says(
    setting: Decimal, percent: Decimal, part: Decimal
) -> None:
    reading = (setting * part).quantize(Decimal("1e-8"))
    bounds = limits(setting, percent)
    assert bounds.lower is not None
    assert bounds.upper is not None
    assert (bounds.lower <= reading <= bounds.upper) == within(setting, reading, percent)


@given(SETTINGS, PERCENTS)
def test_the_limits_are_the_furthest_of_twelve_decimals(setting: Decimal, percent: Decimal) -> None:
    bounds = limits(setting, percent)
    assert bounds.lower is not None
    assert bounds.upper is not None
    step = Decimal("1e-12")
    assert within(setting, bounds.lower, percent)
    assert within(setting, bounds.upper, percent)
    assert not within(setting, bounds.lower - step, percent)
    assert not within(setting, bounds.upper + step, percent)


@given(SETTINGS, SETTINGS, st.fractions(Fraction(1, 1000), 1000))
def test_another_unit_changes_no_deviation(
    setting: Decimal, reading: Decimal, factor: Fraction
) -> None:
    there = deviation(Fraction(setting) * factor, Fraction(reading) * factor)
    assert there == deviation(setting, reading)


@given(st.lists(st.decimals("38", "42", places=1), min_size=1, max_size=5))
def test_the_order_of_readings_changes_no_result(readings: list[Decimal]) -> None:
    check: ToolCheck = CHECK
    one = verify_tool(check, [readings])
    two = verify_tool(check, [readings[::-1]])
    assert one.conforming == two.conforming
    assert one.points[0].mean_deviation == two.points[0].mean_deviation
    assert one.points[0].repeatability == two.points[0].repeatability
    assert len(procedure(check)) == check.preloads + len(check.points_percent) * check.readings
