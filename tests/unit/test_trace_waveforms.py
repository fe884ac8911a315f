"""The simulated waves: the same word the same wave, and the truth is what was drawn."""

from __future__ import annotations

from dataclasses import replace

import pytest

from simulators.waveforms import KINDS, Rolling, Sensor, Tightening, pull, tightening, turning


def test_the_same_word_gives_the_same_wave() -> None:
    sensor = Sensor(500, noise=0.02)
    assert pull(tightening("click"), sensor, "a") == pull(tightening("click"), sensor, "a")
    assert pull(tightening("click"), sensor, "a") != pull(tightening("click"), sensor, "b")
    assert turning(Rolling(), sensor, "a") == turning(Rolling(), sensor, "a")


@pytest.mark.parametrize("kind", KINDS)
def test_the_truth_is_in_the_samples(kind: str) -> None:
    wave = pull(tightening(kind, 80), Sensor(10_000), kind)
    truth = wave.truth
    assert max(wave.torques) == pytest.approx(truth.peak, abs=0.05)
    for at, torque in truth.clicks:
        sample = round(at * 10_000)
        assert wave.torques[sample] == pytest.approx(torque, abs=0.1)
        assert min(wave.torques[sample : sample + 100]) < 0.9 * torque
    assert truth.rise_seconds is not None
    end = truth.clicks[0][0] if truth.clicks else wave.seconds[wave.torques.index(truth.peak)]
    from_ = round((end - truth.rise_seconds) * 10_000)
    assert wave.torques[from_] == pytest.approx(64, abs=0.2)
    for begins in (truth.slip_at, truth.let_off_at):
        if begins is not None:
            assert wave.torques[round(begins * 10_000)] == pytest.approx(48, abs=0.2)


@pytest.mark.parametrize("rate", [50, 1000, 5000])
def test_rate_offset_noise_and_capacity(rate: float) -> None:
    plain = pull(Tightening(), Sensor(rate), "w")
    seen = pull(Tightening(), Sensor(rate, offset=3.0, noise=0.02, start=10.0), "w")
    assert plain.seconds[1] - plain.seconds[0] == pytest.approx(1 / rate)
    assert seen.seconds == pytest.approx([at + 10 for at in plain.seconds])
    errors = [b - a - 3.0 for a, b in zip(plain.torques, seen.torques, strict=True)]
    assert max(errors) <= 0.02 * 60
    assert min(errors) >= -0.02 * 60
    assert max(errors) - min(errors) > 0.02 * 60
    full = pull(Tightening(), Sensor(rate, capacity=50.0), "w")
    assert max(full.torques) == 50
    stepped = pull(Tightening(), Sensor(rate, step=0.5), "w")
    assert all((torque * 2).is_integer() for torque in stepped.torques)


def test_a_turning_test_sends_its_angle_where_it_has_one() -> None:
    wave = turning(replace(Rolling(), angle=True), Sensor(1000), "w")
    assert wave.angles is not None
    assert wave.angles == sorted(wave.angles)
    assert wave.angles[-1] == pytest.approx(360 * 3)
    assert wave.truth.breakaway == max(wave.torques) == pytest.approx(30, abs=0.1)
    assert turning(Rolling(), Sensor(1000), "w").angles is None


def test_an_unknown_kind_is_named() -> None:
    with pytest.raises(ValueError, match="There is no pull 'wild'; there are click, over-pull"):
        tightening("wild")
