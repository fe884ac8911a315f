"""Turning tests as drawn: breakaway, running torque, ripple over a turn."""

from __future__ import annotations

from dataclasses import replace

import pytest

from capture.trace import Code, Trace, Turning, analyse_turning
from simulators.waveforms import Rolling, Sensor, Wave, turning

HOW = Rolling(breakaway=30, running=22, ripple=3, turns=3, seconds_per_turn=2)


def trace(wave: Wave) -> Trace:
    return Trace(wave.seconds, wave.torques, wave.angles, "N·m")


def read(how: Rolling, sensor: Sensor, **told: float) -> Turning:
    return analyse_turning(trace(turning(how, sensor, "roll")), **told)


@pytest.mark.parametrize("rate", [50, 200, 1000, 5000])
@pytest.mark.parametrize("noise", [0.0, 0.02])
@pytest.mark.parametrize("way", ["angle", "seconds_per_turn", "none"])
def test_it_finds_what_was_drawn(rate: float, noise: float, way: str) -> None:
    sensor = Sensor(rate, offset=-1.2, noise=noise, start=3.0)
    told = {"seconds_per_turn": 2.0} if way == "seconds_per_turn" else {}
    found = read(replace(HOW, angle=way == "angle"), sensor, **told)
    assert found.findings == ()
    assert found.zero == pytest.approx(-1.2, abs=0.3 if noise else 0.01)
    assert found.breakaway == pytest.approx(30, rel=0.045)
    assert found.breakaway_at == pytest.approx(3.9, abs=0.03)
    assert found.running_mean == pytest.approx(22, rel=0.02)
    assert found.ripple is not None
    # The more samples a degree has, the less of the noise is left in the ripple.
    doubt = (0.8 if rate < 100 else 0.5 if rate < 1000 else 0.2) if noise else 0.05
    assert found.ripple.torque == pytest.approx(3, abs=doubt)
    assert found.most is not None
    assert found.least is not None
    assert found.most.torque == pytest.approx(23.5, abs=doubt)
    assert found.least.torque == pytest.approx(20.5, abs=doubt)


def test_the_place_of_the_ripple_in_the_turn() -> None:
    found = read(replace(HOW, angle=True), Sensor(1000))
    assert found.ripple is not None
    assert found.steady is not None
    assert found.ripple.turns == 2
    # Drawn as a sine of the angle: largest at 90°, smallest at 270°; steady from 45° on.
    assert found.ripple.most_at == pytest.approx(90 - 45, abs=4)
    assert found.ripple.least_at == pytest.approx(270 - 45, abs=4)
    assert found.most is not None
    assert found.most.angle is not None
    assert found.most.angle % 360 == pytest.approx(45, abs=6)
    assert found.turns == pytest.approx(3 - 45 / 360, abs=0.05)


def test_turns_and_time_of_a_turn_say_the_same() -> None:
    wave = turning(HOW, Sensor(1000), "same")
    by_time = analyse_turning(trace(wave), seconds_per_turn=2.0)
    assert by_time.turns is not None
    by_turns = analyse_turning(trace(wave), turns=by_time.turns)
    assert by_time.ripple == by_turns.ripple
    assert by_time.running_mean == pytest.approx(by_turns.running_mean)


def test_less_than_a_turn_is_told() -> None:
    found = read(replace(HOW, turns=0.9, angle=True), Sensor(1000))
    assert [finding.code for finding in found.findings] == [Code.SHORT_OF_A_TURN]
    assert found.ripple is not None
    assert found.ripple.turns == 0


def test_no_breakaway_above_the_running_torque() -> None:
    found = read(replace(HOW, breakaway=21, angle=True), Sensor(1000))
    assert found.has(Code.NO_BREAKAWAY)
    assert found.breakaway is None
    assert found.running_mean == pytest.approx(22, rel=0.01)


def test_turned_the_other_way() -> None:
    wave = turning(replace(HOW, angle=True), Sensor(1000), "way")
    assert wave.angles is not None
    there = analyse_turning(trace(wave))
    back = analyse_turning(
        Trace(wave.seconds, [-t for t in wave.torques], [-a for a in wave.angles], "N·m")
    )
    assert back.has(Code.REVERSED)
    assert back.breakaway == there.breakaway
    assert back.ripple == there.ripple


def test_nothing_turned() -> None:
    flat = Trace([n / 100 for n in range(100)], [0.5] * 100, None, "N·m")
    found = analyse_turning(flat)
    assert found.has(Code.NO_TURNING)
    assert found.running_mean is None
    assert found.ripple is None


def test_one_source_of_the_angle() -> None:
    wave = turning(replace(HOW, angle=True), Sensor(200), "two")
    with pytest.raises(ValueError, match="needs one of turns and angle, not both"):
        analyse_turning(trace(wave), turns=3)
    with pytest.raises(ValueError, match="turns of a turning test must be more than 0"):
        analyse_turning(trace(wave), turns=0)


def test_single_samples_far_from_the_others_are_no_turning() -> None:
    """Found by drawing samples: the calmed torque nowhere came near the median of the loaded."""
    torque = [0.0, 0.0, 2.0, -3.0, -3.0, -3.0, -3.0]
    seconds = [0.001 * number for number in range(len(torque))]
    found = analyse_turning(Trace(seconds, torque, None, "N·m"))
    assert found.most is None
    assert Code.NO_TURNING in [finding.code for finding in found.findings]
