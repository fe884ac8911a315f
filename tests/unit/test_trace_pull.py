"""What a drawn pull shows: every finding, at every rate, with noise and offset; and errors."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from capture.trace import Code, Pull, Trace, Written, analyse_pull
from simulators.waveforms import KINDS, Sensor, Tightening, Wave, pull, tightening

EXPECTED: dict[str, set[Code]] = {
    "click": set(),
    "over-pull": {Code.OVER_PULL},
    "second-click": {Code.SECOND_CLICK},
    "no-click": {Code.NO_CLICK},
    "jerky": {Code.TOO_FAST},
    "slow": {Code.TOO_SLOW},
    "slip": {Code.SLIP},
    "let-off": {Code.LET_OFF},
    "run-down": {Code.RUN_DOWN},
}
ABOUT_THE_SENSOR = {Code.ZERO_OFFSET, Code.COARSE_SAMPLING}


def read(wave: Wave, unit: str = "N·m") -> Pull:
    return analyse_pull(Trace(wave.seconds, wave.torques, None, unit))


def codes(found: Pull) -> set[Code]:
    return {finding.code for finding in found.findings}


def text(found: Pull, code: Code) -> str:
    return next(finding.text for finding in found.findings if finding.code is code)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("rate", [50, 100, 200, 500, 1000, 5000])
@pytest.mark.parametrize("noise", [0.0, 0.02])
def test_each_pull_is_told_from_the_others(kind: str, rate: float, noise: float) -> None:
    for word in ("a", "b")[: 1 if rate > 1000 else 2]:
        sensor = Sensor(rate, offset=-2.5, noise=noise, phase=0.6)
        wave = pull(tightening(kind), sensor, word)
        found = read(wave)
        assert codes(found) - ABOUT_THE_SENSOR == EXPECTED[kind]
        truth = wave.truth
        assert len(found.clicks) == len(truth.clicks)
        for click, (at, torque) in zip(found.clicks, truth.clicks, strict=True):
            # One interval, and what noise leaves open of the 10 ms in which a break falls.
            assert click.at == pytest.approx(at, abs=2 / rate + (0.01 if noise else 0))
            assert click.torque == pytest.approx(torque, rel=0.03 + noise if rate < 100 else 0.03)
        assert found.zero == pytest.approx(-2.5, abs=0.02 * 60)


def test_noise_that_is_normal_is_borne_as_well() -> None:
    """±2 % as two standard deviations, as a certificate states it; a normal tail goes further."""
    wrong = 0
    for number in range(60):
        kind = KINDS[number % len(KINDS)]
        sensor = Sensor((50, 200, 1000)[number % 3], noise=0.02, normal=True)
        found = read(pull(tightening(kind), sensor, f"normal {number}"))
        wrong += codes(found) - ABOUT_THE_SENSOR != EXPECTED[kind]
    assert wrong == 0


@pytest.mark.parametrize("rate", [50, 100, 200, 1000, 5000])
@pytest.mark.parametrize("seconds", [0.01, 0.03, 0.045, 0.06, 0.1, 0.2, 0.6])
def test_letting_go_is_no_click_however_quick(rate: float, seconds: float) -> None:
    how = replace(tightening("no-click"), let_go_seconds=seconds)
    for phase in (0.0, 0.3, 0.7):
        found = read(pull(how, Sensor(rate, phase=phase), "let go"))
        assert codes(found) - ABOUT_THE_SENSOR == {Code.NO_CLICK}


@pytest.mark.parametrize("rate", [50, 100, 200, 1000, 5000])
@pytest.mark.parametrize("drop", [0.11, 0.15, 0.3, 0.6, 0.7])
def test_a_break_of_any_depth_is_found_without_noise(rate: float, drop: float) -> None:
    how = replace(tightening("click"), drop=drop)
    for phase in (0.0, 0.3, 0.7):
        found = read(pull(how, Sensor(rate, phase=phase), "drop"))
        assert len(found.clicks) == 1
        # The torque climbs back from the foot to 90 % in 0.2 s, until the next sample is taken.
        climbed = (drop - 0.1) / 0.2 / rate
        assert found.clicks[0].fall == pytest.approx(drop, abs=climbed + 0.03)


def test_a_fall_of_a_fifth_is_found_in_noise_at_every_rate() -> None:
    how = replace(tightening("click"), drop=0.2)
    for rate in (50, 100, 200, 1000, 5000):
        for word in "abcdefgh":
            found = read(pull(how, Sensor(rate, noise=0.02), word))
            assert len(found.clicks) == 1, (rate, word)


def test_a_fall_under_a_tenth_is_no_click() -> None:
    how = replace(tightening("click"), drop=0.08)
    found = read(pull(how, Sensor(1000), "small"))
    assert codes(found) == {Code.NO_CLICK}
    assert "10.0" in text(found, Code.NO_CLICK)


def test_the_numbers_are_in_the_sentences() -> None:
    wave = pull(tightening("over-pull", 100), Sensor(1000, start=7.0), "words")
    found = read(wave, "lbf·ft")
    assert text(found, Code.OVER_PULL) == (
        f"Pulled past the click: 115.0 lbf·ft at {found.peak.at:.3f} s, "
        "after a click at 100.0 lbf·ft (15.00 % above it)."
    )
    assert found.click is not None
    assert found.click.at == pytest.approx(wave.truth.clicks[0][0] + 7.0, abs=0.002)
    assert found.over_pull == pytest.approx(15, abs=0.1)
    assert found.torque == found.click.torque


def test_a_peak_after_the_click_below_it_is_no_over_pull() -> None:
    found = read(pull(tightening("click"), Sensor(1000), "below"))
    assert found.peak_after is not None
    assert found.peak_after.torque == pytest.approx(54, abs=0.1)
    assert found.over_pull is None


def test_clicks_without_end_are_not_told_one_by_one() -> None:
    found = read(pull(replace(tightening("click"), clicks=40), Sensor(500), "many"))
    assert len(found.clicks) == 40
    told = [finding.text for finding in found.findings if finding.code is Code.SECOND_CLICK]
    assert len(told) == 11
    assert told[-1] == "And 29 clicks more: this is no single pull."


@pytest.mark.parametrize(
    ("rise", "code"),
    [(0.4, Code.TOO_FAST), (0.6, None), (3.8, None), (4.3, Code.TOO_SLOW)],
)
def test_the_times_of_iso_6789(rise: float, code: Code | None) -> None:
    for rate, noise in ((50, 0.0), (1000, 0.0), (1000, 0.02)):
        wave = pull(replace(Tightening(), rise=rise), Sensor(rate, noise=noise), "rise")
        found = read(wave)
        timed = codes(found) & {Code.TOO_FAST, Code.TOO_SLOW}
        assert timed == ({code} if code else set())
        assert found.rise_seconds == pytest.approx(rise, rel=0.08, abs=2 / rate)


def test_the_times_and_the_target_can_be_given() -> None:
    wave = pull(replace(Tightening(), rise=1.0), Sensor(1000), "given")
    trace = Trace(wave.seconds, wave.torques, None, "N·m")
    assert analyse_pull(trace, shortest_rise=1.5).has(Code.TOO_FAST)
    assert analyse_pull(trace, longest_rise=0.8).has(Code.TOO_SLOW)
    timed = analyse_pull(trace, target=70)  # 80 % of it is 56 of 60: two thirds up the last rise
    assert timed.rise_seconds == pytest.approx(1.0 / 3, abs=0.005)


def test_an_indicating_tool_needs_no_click() -> None:
    wave = pull(tightening("no-click"), Sensor(1000), "dial")
    found = analyse_pull(Trace(wave.seconds, wave.torques, None, "N·m"), click_expected=False)
    assert codes(found) == set()
    assert found.torque == pytest.approx(60, abs=0.1)


def test_a_slip_is_sudden_and_a_let_off_is_not() -> None:
    slip = read(pull(tightening("slip"), Sensor(1000), "slip"))
    (one,) = slip.let_offs
    assert one.sudden
    assert one.torque == pytest.approx(36, abs=0.1)
    assert one.low == pytest.approx(0, abs=0.1)
    assert "from 36.0" in text(slip, Code.SLIP)
    eased = read(pull(tightening("let-off"), Sensor(1000), "eased"))
    assert [one.sudden for one in eased.let_offs] == [False]


def test_a_run_down_has_its_torque_and_time() -> None:
    for rate, noise in ((50, 0.02), (1000, 0.0), (5000, 0.02)):
        found = read(pull(tightening("run-down"), Sensor(rate, noise=noise), "down"))
        assert found.run_down is not None
        assert found.run_down.torque == pytest.approx(7.2, abs=0.5)
        assert found.run_down.seconds == pytest.approx(1.5, abs=0.3)
        assert found.start is not None
        assert found.start == pytest.approx(1.9, abs=0.15)


def test_a_sensor_at_its_end_is_noticed() -> None:
    for rate in (200, 1000, 5000):
        for noise in (0.0, 0.005):
            how = replace(tightening("no-click"), rise=1.0)
            found = read(pull(how, Sensor(rate, noise=noise, capacity=52.0), "full"))
            assert found.has(Code.SATURATED), (rate, noise)
            shown = text(found, Code.SATURATED).split(" alike at ")[1].split()[0]
            assert float(shown) == pytest.approx(52 - found.zero, abs=0.01)
    wave = pull(tightening("click"), Sensor(1000), "capacity")
    trace = Trace(wave.seconds, wave.torques, None, "N·m")
    assert analyse_pull(trace, capacity=60).has(Code.SATURATED)
    assert not analyse_pull(trace, capacity=61).has(Code.SATURATED)


def test_coarse_digits_are_no_flat_top() -> None:
    found = read(pull(tightening("click"), Sensor(5000, step=0.1), "digits"))
    assert codes(found) == set()


def test_a_trace_cut_off_under_load() -> None:
    wave = pull(tightening("click"), Sensor(1000), "cut")
    end = round(1000 * (wave.truth.clicks[0][0] + 0.15))
    found = analyse_pull(Trace(wave.seconds[:end], wave.torques[:end], None, "N·m"))
    assert codes(found) == {Code.ENDS_UNDER_LOAD}
    before = round(1000 * (wave.truth.clicks[0][0] - 0.1))
    found = analyse_pull(Trace(wave.seconds[:before], wave.torques[:before], None, "N·m"))
    assert codes(found) == {Code.ENDS_UNDER_LOAD, Code.NO_CLICK}


def test_a_trace_that_begins_under_load_takes_its_zero_from_the_end() -> None:
    wave = pull(tightening("click"), Sensor(1000, offset=1.5), "late")
    start = 600
    found = analyse_pull(Trace(wave.seconds[start:], wave.torques[start:], None, "N·m"))
    assert found.zero == pytest.approx(1.5, abs=0.01)
    assert found.torque == pytest.approx(60, abs=0.1)
    end = round(1000 * (wave.truth.clicks[0][0] + 0.15))
    found = analyse_pull(Trace(wave.seconds[start:end], wave.torques[start:end], None, "N·m"))
    assert found.has(Code.NO_REST)
    assert found.zero == 0


def test_a_pull_to_the_other_side_reads_alike() -> None:
    wave = pull(tightening("over-pull"), Sensor(1000, noise=0.01), "left")
    there = read(wave)
    back = analyse_pull(Trace(wave.seconds, [-t for t in wave.torques], None, "N·m"))
    assert back.clicks == there.clicks
    assert codes(back) == codes(there) | {Code.REVERSED}


def test_missing_samples_are_told() -> None:
    wave = pull(tightening("click"), Sensor(1000), "gap")
    times = wave.seconds[:500] + wave.seconds[560:]
    torques = wave.torques[:500] + wave.torques[560:]
    found = analyse_pull(Trace(times, torques, None, "N·m"))
    assert codes(found) == {Code.SAMPLES_MISSING}
    assert "0.061 s from 0.499 s" in text(found, Code.SAMPLES_MISSING)


def test_nothing_pulled() -> None:
    flat = Trace([n / 100 for n in range(100)], [0.5] * 100, None, "N·m")
    found = analyse_pull(flat)
    assert Code.NO_PULL in codes(found)
    assert found.clicks == ()
    assert found.peak.torque == 0
    low = pull(tightening("click", 1.5), Sensor(1000), "low")
    trace = Trace(low.seconds, low.torques, None, "N·m")
    assert analyse_pull(trace, threshold=2).has(Code.NO_PULL)
    assert len(analyse_pull(trace, threshold=1).clicks) == 1


def test_the_angle_of_the_rise() -> None:
    wave = pull(tightening("click"), Sensor(1000), "angle")
    angles = [30 * at for at in wave.seconds]
    found = analyse_pull(Trace(wave.seconds, wave.torques, angles, "N·m"))
    assert found.click is not None
    assert found.start is not None
    assert found.angle == pytest.approx(30 * (found.click.at - found.start))


@pytest.mark.parametrize(
    ("trace", "says"),
    [
        (Trace([0, 1], [0, 1], None, "N·m"), "3 to 10,000,000 samples; this one has 2"),
        (Trace([0, 1, 2], [0, 1, 2, 3], None, "N·m"), "4 torques and 3 times"),
        (Trace([0, 1, 2], [0, 1, 2], [0.0], "N·m"), "3 torques and 1 angles"),
        (Trace([0, 2, 2], [0, 1, 2], None, "N·m"), "Sample 3 of the trace is not later"),
        (Trace([0, 1, 2], [0, math.nan, 2], None, "N·m"), "Sample 2 of the trace has no finite"),
        (Trace([0, 1, math.inf], [0, 1, 2], None, "N·m"), "Sample 3 of the trace has no finite"),
    ],
)
def test_what_is_no_trace(trace: Trace, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        analyse_pull(trace)


def test_arguments_are_checked() -> None:
    trace = Trace([0, 1, 2], [0, 1, 2], None, "N·m")
    for name in ("threshold", "target", "capacity"):
        with pytest.raises(ValueError, match=f"The {name} of a pull must be more than 0"):
            # By name, as each argument in turn.
            analyse_pull(trace, **{name: 0.0})  # type: ignore[arg-type]


def test_text_becomes_numbers() -> None:
    assert Written(["0", "0.1"], ["1.50", "2"], ["0", "90"], "N·m").trace() == Trace(
        [0.0, 0.1], [1.5, 2.0], [0.0, 90.0], "N·m"
    )
    with pytest.raises(ValueError, match="Sample 2 of the trace has no number for its torque"):
        Written(["0", "0.1"], ["1.50", "two"], None, "N·m").trace()
