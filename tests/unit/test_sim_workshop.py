"""The virtual workshop, its gauges, its torque adapter and the fault knobs."""

from __future__ import annotations

import statistics
from decimal import Decimal

import pytest

from simulators import faults
from simulators.gauges import Gauge, Surroundings, UnknownUnit, in_unit, to_steps
from simulators.torque import ClickWrench, Hand, TorqueAdapter
from simulators.workshop import Feature, UnknownFeature, Workshop

BORE = Feature(
    "bore",
    86.01,
    spread=0.002,
    taper=0.004,
    out_of_round=0.003,
    depths=("top", "middle", "bottom"),
    axes=("thrust", "axial"),
)
MICRON = Decimal("0.001")


def size(shop: Workshop, piece: str, point: str) -> float:
    return shop.true_size("bore", piece, point)


def test_the_same_lot_gives_the_same_parts_and_another_lot_others() -> None:
    sizes = [size(Workshop("a", [BORE]), "cylinder-1", point) for point in BORE.points()]
    again = [size(Workshop("a", [BORE]), "cylinder-1", point) for point in BORE.points()]
    other = [size(Workshop("b", [BORE]), "cylinder-1", point) for point in BORE.points()]
    assert sizes == again
    assert sizes != other


def test_sizes_do_not_depend_on_the_order_of_asking() -> None:
    shop, backwards = Workshop("a", [BORE]), Workshop("a", [BORE])
    forth = [size(shop, "cylinder-2", point) for point in BORE.points()]
    back = [size(backwards, "cylinder-2", point) for point in reversed(BORE.points())]
    assert forth == back[::-1]


def test_a_bore_tapers_over_its_depths_and_is_oval_over_its_axes() -> None:
    shop = Workshop("a", [BORE])
    for piece in ("cylinder-1", "cylinder-2", "cylinder-3", "cylinder-4"):
        taper = size(shop, piece, "top-thrust") - size(shop, piece, "bottom-thrust")
        assert 0.002 <= taper <= 0.004
        oval = size(shop, piece, "middle-thrust") - size(shop, piece, "middle-axial")
        assert 0.0015 <= oval <= 0.003
        mean = statistics.fmean(size(shop, piece, point) for point in BORE.points())
        assert abs(mean - 86.01) <= 0.002


def test_scatter_stays_within_its_half_width() -> None:
    flat = Feature("bore", 86.0, scatter=0.001, depths=tuple("abcdefgh"), axes=("x", "y"))
    shop = Workshop("a", [flat])
    sizes = [size(shop, "cylinder-1", point) for point in flat.points()]
    assert max(abs(each - 86.0) for each in sizes) <= 0.001
    assert len(set(sizes)) == len(sizes)


def test_honing_opens_one_bore_only() -> None:
    shop = Workshop("a", [BORE])
    before = [size(shop, piece, "top-axial") for piece in ("cylinder-1", "cylinder-2")]
    shop.machine("bore", "cylinder-1", 0.010)
    shop.machine("bore", "cylinder-1", 0.002)
    after = [size(shop, piece, "top-axial") for piece in ("cylinder-1", "cylinder-2")]
    assert after[0] - before[0] == pytest.approx(0.012, abs=1e-9)
    assert after[1] == before[1]


def test_an_offset_is_of_the_named_piece() -> None:
    small = Feature("bore", 86.0, offsets={"cylinder-3": -0.02})
    shop = Workshop("a", [small])
    assert [size(shop, f"cylinder-{number}", "") for number in (2, 3)] == [86.0, 85.98]


def test_unknown_features_and_points_are_named() -> None:
    shop = Workshop("a", [BORE])
    with pytest.raises(UnknownFeature, match=r"no feature 'stroke' \(it has: bore\)"):
        shop.true_size("stroke", "crankshaft-1")
    with pytest.raises(UnknownFeature, match=r"no point 'rim' .*top-thrust"):
        shop.true_size("bore", "cylinder-1", "rim")


def test_a_perfect_gauge_shows_whole_steps_of_its_own_unit() -> None:
    metric = Gauge("m", "micrometer", "mm", MICRON)
    inch = Gauge("i", "micrometer", "in", Decimal("0.0001"))
    assert str(metric.indicate(25.4)) == "25.400"
    assert str(inch.indicate(25.4)) == "1.0000"  # 1 in = 25.4 mm exactly (1959 agreement)
    assert str(metric.indicate(25.4, unit="in", resolution=Decimal("0.00005"))) == "1.00000"


@pytest.mark.parametrize(
    ("value", "resolution", "shown"),
    [
        (1.23456, "0.001", "1.235"),
        (1.2, "0.0005", "1.2000"),
        (1.20026, "0.0005", "1.2005"),
        (-0.0004, "0.001", "0.000"),
        (85.44, "0.1", "85.4"),
    ],
)
def test_steps(value: float, resolution: str, shown: str) -> None:
    assert to_steps(value, Decimal(resolution)) == Decimal(shown)
    assert str(abs(to_steps(value, Decimal(resolution)))) == shown.lstrip("-")


def test_bias_zero_and_drift_add_up() -> None:
    gauge = Gauge("g", "micrometer", "mm", MICRON, bias=0.002, zero_error=-0.001, zero_drift=0.001)
    assert [str(gauge.indicate(10.0)) for _ in range(3)] == ["10.001", "10.002", "10.003"]
    gauge.set_zero()
    assert str(gauge.indicate(10.0)) == "10.001"


def test_repeatability_is_the_standard_deviation_of_repeats() -> None:
    gauge = Gauge("g", "micrometer", "mm", Decimal("0.00001"), repeatability=0.002, lot="a")
    seen = [float(gauge.indicate(50.0)) for _ in range(2000)]
    assert statistics.fmean(seen) == pytest.approx(50.0, abs=0.0002)
    assert statistics.stdev(seen) == pytest.approx(0.002, rel=0.06)


def test_a_warm_part_reads_large_by_its_expansion() -> None:
    # 100 mm of steel at 11.5 µm/(m·°C) is 11.5 µm longer at 30 °C (arithmetic).
    gauge = Gauge("g", "micrometer", "mm", Decimal("0.0001"))
    assert str(gauge.indicate(100.0, surroundings=Surroundings(30.0, 20.0))) == "100.0115"
    assert str(gauge.indicate(100.0, surroundings=Surroundings(30.0, 30.0))) == "100.0000"
    assert str(gauge.indicate(100.0, surroundings=Surroundings(20.0, 30.0))) == "99.9885"


def test_a_comparative_gauge_shows_the_deviation_from_its_standard() -> None:
    gauge = Gauge("g", "bore-gauge", "mm", MICRON, comparative=True)
    unset = gauge.indicate(86.012)
    assert 0 < unset < 1  # something, but not the size
    gauge.set_zero(86.0)
    assert str(gauge.indicate(86.012)) == "0.012"
    assert str(gauge.indicate(85.995)) == "-0.005"


def test_a_knocked_gauge_is_off_until_it_is_set_again() -> None:
    gauge = Gauge("g", "bore-gauge", "mm", MICRON, comparative=True)
    gauge.set_zero(86.0)
    gauge.knock(0.006)
    assert [str(gauge.indicate(86.0)), str(gauge.indicate(86.01))] == ["0.006", "0.016"]
    gauge.set_zero(86.0)
    assert str(gauge.indicate(86.0)) == "0.000"


def test_only_lengths_grow_with_warmth() -> None:
    around = Surroundings(40.0, 20.0)
    for unit, shown in (("°C", "40.0"), ("cm³", "42.0")):
        gauge = Gauge("g", "any", unit, Decimal("0.1"))
        assert str(gauge.indicate(float(shown), part_expansion=0.01, surroundings=around)) == shown


def test_a_click_wrench_clicks_off_its_setting_by_its_bias() -> None:
    wrench = ClickWrench("c", "N·m", Decimal("0.5"), bias=-0.02)
    assert wrench.clicks_at(50.0) == pytest.approx(49.0)
    inch = ClickWrench("c", "lbf·ft", Decimal(1))
    assert inch.clicks_at(50.0) == pytest.approx(67.79, abs=0.005)
    scattered = ClickWrench("c", "N·m", Decimal("0.5"), repeatability=0.01, lot="a")
    seen = [scattered.clicks_at(50.0) for _ in range(1000)]
    assert statistics.stdev(seen) == pytest.approx(0.5, rel=0.1)


def test_a_unit_it_has_not_is_named() -> None:
    with pytest.raises(UnknownUnit, match="cannot show 'furlong', only mm"):
        in_unit(1.0, "furlong")
    # 1 lbf·ft = 1.355 817 948 331 400 4 N·m (NIST SP 811, appendix B.8, from memory).
    assert in_unit(1.3558179483314004, "lbf·ft") == 1.0


def test_a_pull_rises_to_about_the_target_and_lets_go() -> None:
    samples = list(Hand(lot="a").pull(80.0))
    peak = max(samples)
    assert 80 * (1 - 3 * 0.006) <= peak <= 80 * (1 + 3 * 0.006)
    top = samples.index(peak)
    assert samples[: top + 1] == sorted(samples[: top + 1])
    assert samples[-1] < peak / 3


def test_the_adapter_holds_the_peak_in_its_own_unit() -> None:
    adapter = TorqueAdapter("t", "lbf·ft", Decimal("0.1"))
    assert str(adapter.peak(iter([10.0, 135.58179483314004, 20.0]))) == "100.0"
    high = TorqueAdapter("t", "N·m", Decimal("0.1"), bias=0.01)
    assert str(high.peak(iter([50.0]))) == "50.5"


def test_faults_of_the_line_leave_the_messages_whole() -> None:
    message = b"+25.400 mm\r\n"
    for shaped in (faults.split(message), faults.stalled(message), faults.whole(message)):
        assert b"".join(chunk.data for chunk in shaped) == message
    assert len(faults.split(message)) == 2
    assert faults.split(message)[0].pause > 0
    assert faults.stalled(message)[0].pause > faults.split(message)[0].pause
    assert faults.merged(message, message) == [faults.Chunk(message + message)]
    assert faults.repeated(message) == faults.whole(message, message)


def test_a_merged_press_goes_out_with_the_next() -> None:
    knobs = faults.Faults(faults.Knobs())
    assert knobs.chunks([b"a\r"], frozenset({"merge"}), b"") == []
    assert knobs.chunks([b"b\r"], frozenset(), b"") == [faults.Chunk(b"a\rb\r")]
    assert knobs.flush() == []
    knobs.chunks([b"c\r"], frozenset({"merge", "repeat"}), b"")
    assert knobs.flush() == [faults.Chunk(b"c\rc\r")]


def test_noise_comes_before_the_message() -> None:
    knobs = faults.Faults(faults.Knobs())
    sent = knobs.chunks([b"a\r"], frozenset({"noise"}), b"\xfe\r")
    assert [chunk.data for chunk in sent] == [b"\xfe\r", b"a\r"]


def test_knobs_say_how_often() -> None:
    drawn = faults.Faults(faults.Knobs(split=0.25, wrong_unit=1.0), "a")
    seen = [drawn.draw() for _ in range(2000)]
    assert all("wrong_unit" in each for each in seen)
    assert sum("split" in each for each in seen) == pytest.approx(500, abs=80)
    assert not any("noise" in each for each in seen)
    with pytest.raises(ValueError, match="noise is a chance from 0 to 1, not 3"):
        faults.Knobs(noise=3)
