"""The picture of a torque trace: drawn whole, whatever the samples are."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from api.pictures.flags import flags
from api.pictures.marks import Marks, marks_of
from api.pictures.scale import axis
from api.pictures.svg import width
from api.pictures.thin import thinned
from api.pictures.trace import HEIGHT, LEFT, RIGHT, RIGHT_OF_ANGLE, WIDTH, draw
from capture.trace import Trace, Written, analyse_pull, digest
from simulators.waveforms import Rolling, Sensor, Wave, pull, tightening, turning
from tests.running import BENCH, client, service

NAME = "{http://www.w3.org/2000/svg}"
ADAPTER = """
[[instrument]]
id = "adapter-1"
kind = "torque-adapter"
port = "typed"
unit = "N·m"
resolution = "0.1"
simulated = true
"""


def trace_of(wave: Wave, angle: bool = False) -> Trace:
    turned = [at * 0.03 for at in range(len(wave.seconds))] if angle else wave.angles
    return Trace(wave.seconds, wave.torques, turned, "N·m")


def drawn(trace: Trace, marks: Marks | None = None, title: str = "Torque") -> ET.Element:
    return ET.fromstring(draw(trace, marks_of(trace) if marks is None else marks, title=title))


def points(picture: ET.Element, name: str = "torque") -> list[tuple[float, float]]:
    line = next(one for one in picture.iter(f"{NAME}polyline") if one.get("id") == name)
    pairs = [pair.split(",") for pair in str(line.get("points")).split()]
    return [(float(x), float(y)) for x, y in pairs]


def said(picture: ET.Element) -> str:
    return " | ".join(one.text or "" for one in picture.iter(f"{NAME}text"))


CLICK = pull(tightening("click"), Sensor(1000, offset=0.4, noise=0.004), "a")


def test_it_says_what_it_is_to_who_cannot_see_it() -> None:
    picture = drawn(trace_of(CLICK), title="Torque of <adapter> & 1")
    assert picture.get("role") == "img"
    named = str(picture.get("aria-labelledby")).split()
    by_id = {one.get("id"): one.text or "" for one in picture}
    assert by_id[named[0]] == "Torque of <adapter> & 1"
    assert "resting zero" in by_id[named[1]]
    assert "The tool rested at" in by_id[named[1]]


def test_the_click_is_marked_and_never_thinned_out() -> None:
    trace = trace_of(CLICK)
    click = analyse_pull(trace).click
    assert click is not None
    picture = drawn(trace)
    assert "click 60.10 N·m" in said(picture)
    ring = picture.find(f"{NAME}circle")
    assert ring is not None
    at = (float(str(ring.get("cx"))), float(str(ring.get("cy"))))
    # The ring stands where the analysis has the click, a mean over some samples; the line goes
    # through the sample itself.
    near = [y for x, y in points(picture) if abs(x - at[0]) <= 0.05]
    assert min(abs(y - at[1]) for y in near) < 4


@pytest.mark.parametrize("spike", [12_345, 0, 59_999])
def test_of_60_000_samples_a_single_high_one_is_drawn(spike: int) -> None:
    count = 60_000
    torque = (20 + np.sin(np.arange(count) / 7)).tolist()
    torque[spike] = 60.0
    trace = Trace((np.arange(count) / 1000).tolist(), torque, None, "N·m")
    text = draw(trace, Marks(), title="Torque")
    assert len(text.encode()) < 200_000
    found = points(ET.fromstring(text))
    x, y = min(found, key=lambda one: one[1])
    assert x == pytest.approx(LEFT + spike / (count - 1) * (RIGHT - LEFT), abs=0.1)
    assert y < min(other for _, other in found if other != y) - 100


def test_a_minute_at_1_khz_with_an_angle_is_a_small_file() -> None:
    count = 60_000
    noisy = np.random.default_rng(5).normal(30, 10, count)
    trace = Trace(
        (np.arange(count) / 1000).tolist(), noisy.tolist(), noisy[::-1].cumsum().tolist(), "lbf·ft"
    )
    assert len(draw(trace, marks_of(trace), title="Torque").encode()) < 200_000


def test_an_angle_is_a_second_line_with_an_axis_of_its_own() -> None:
    picture = drawn(trace_of(CLICK, angle=True))
    angle = points(picture, "angle")
    assert angle[-1][0] == pytest.approx(RIGHT_OF_ANGLE, abs=0.1)
    assert all(one[1] >= other[1] for one, other in pairwise(angle))
    assert "angle, ° (dashes)" in said(picture)


def test_a_turning_test_is_marked_as_one() -> None:
    wave = turning(Rolling(), Sensor(1000, offset=0.4, noise=0.004), "d")
    trace = trace_of(wave)
    words = said(drawn(trace, marks_of(trace, turning=True)))
    for word in ("breakaway", "least", "most", "turns steadily", "mean"):
        assert word in words


def test_what_is_not_whole_is_marked() -> None:
    wave = pull(tightening("no-click"), Sensor(1000), "e")
    half = Trace(wave.seconds[:2800], wave.torques[:2800], None, "N·m")
    assert "INCOMPLETE | It ends under load." in said(drawn(half))
    lost = marks_of(trace_of(CLICK), incomplete="the link was lost")
    assert "INCOMPLETE | the link was lost" in said(drawn(trace_of(CLICK), lost))
    assert "INCOMPLETE" not in said(drawn(trace_of(CLICK)))


def test_a_pull_to_the_other_side_stands_upright() -> None:
    wave = CLICK._replace(torques=[-torque for torque in CLICK.torques])
    picture = drawn(trace_of(wave))
    assert "turned over" in said(picture)
    ring = picture.find(f"{NAME}circle")
    assert ring is not None
    assert float(str(ring.get("cy"))) < HEIGHT / 2


def test_a_second_click_does_not_lie_on_the_first() -> None:
    wave = pull(tightening("second-click"), Sensor(1000, noise=0.004), "c")
    words = said(drawn(trace_of(wave)))
    assert words.count("click") == 2
    assert "peak" not in words  # it is one of the clicks


LARGE = 1e300
SIZES = st.floats(-LARGE, LARGE, allow_subnormal=True) | st.floats(-1e-300, 1e-300)


@given(
    torque=st.lists(SIZES, min_size=3, max_size=40),
    step=st.sampled_from([1e-9, 0.001, 1.0, 1e6]),
    angle=st.none() | st.lists(SIZES, min_size=40, max_size=40),
    unit=st.text(min_size=1, max_size=40),
)
@settings(max_examples=60)
def test_any_samples_make_a_picture(
    torque: list[float], step: float, angle: list[float] | None, unit: str
) -> None:
    trace = Trace(
        [at * step for at in range(len(torque))],
        torque,
        None if angle is None else angle[: len(torque)],
        unit,
    )
    picture = drawn(trace, Marks())
    for name in ("torque", "angle")[: 1 if angle is None else 2]:
        for x, y in points(picture, name):
            assert 0 <= x <= WIDTH
            assert 0 <= y <= HEIGHT


@pytest.mark.parametrize("size", [0.0, 5e-324, 1e-310, 1e300, -1e300])
def test_samples_that_are_all_one(size: float) -> None:
    trace = Trace([0.0, 0.001, 0.002, 0.003], [size] * 4, [size] * 4, "N·m")
    picture = drawn(trace)
    assert len({y for _, y in points(picture)}) == 1


@given(
    values=st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=500),
    columns=st.integers(1, 40),
    data=st.data(),
)
@settings(max_examples=60)
def test_thinning_keeps_every_columns_ends_smallest_and_largest(
    values: list[float], columns: int, data: st.DataObject
) -> None:
    up = np.array(values)
    across = np.linspace(0, 1, len(values))
    keep = data.draw(st.lists(st.integers(0, len(values) - 1), max_size=3))
    chosen = thinned(across, up, columns, keep).tolist()
    assert chosen == sorted(set(chosen))
    assert set(keep) <= set(chosen)
    assert len(chosen) <= 4 * columns + len(keep) or len(chosen) == len(values)
    column = np.minimum((across * columns).astype(int), columns - 1)
    for one in range(columns):
        inside = np.flatnonzero(column == one)
        if len(inside):
            kept = [at for at in chosen if at in set(inside.tolist())]
            assert kept[0] == inside[0]
            assert kept[-1] == inside[-1]
            assert up[kept].min() == up[inside].min()
            assert up[kept].max() == up[inside].max()


@pytest.mark.parametrize(
    ("values", "labels", "power"),
    [
        ([0.0, 61.0], ["0", "10", "20", "30", "40", "50", "60", "70"], 0),
        ([-0.3, 61.0], ["0", "10", "20", "30", "40", "50", "60", "70"], 0),
        ([0.0, 0.31], ["0.00", "0.05", "0.10", "0.15", "0.20", "0.25", "0.30", "0.35"], 0),
        ([-40.0, 0.0], ["−40", "−30", "−20", "−10", "0"], 0),
        ([0.0, 0.0], ["0.0", "0.2", "0.4", "0.6", "0.8", "1.0"], 0),
        ([0.0, 2e7], ["0", "5", "10", "15", "20"], 6),
    ],
)
def test_axes_have_round_numbers(values: list[float], labels: list[str], power: int) -> None:
    made = axis(values, 7)
    assert (made.labels, made.power) == (labels, power)


@given(
    st.lists(
        st.tuples(st.floats(100, 1150), st.sampled_from(["a", "click 60.10 N·m", "x" * 40])),
        max_size=5,
    )
)
def test_names_do_not_lie_on_one_another(given_: list[tuple[float, str]]) -> None:
    made = flags(given_, 19, 1160)
    ends = []
    for flag in made:
        wide = width(flag.label, 19)
        ends.append((flag.x - wide, flag.x) if flag.left else (flag.x, flag.x + wide))
    for n, one in enumerate(made):
        for m, other in enumerate(made[:n]):
            if one.row == other.row:
                assert ends[n][1] < ends[m][0] or ends[m][1] < ends[n][0]


async def test_the_picture_over_http(tmp_path: Path) -> None:
    (tmp_path / "bench.toml").write_text(BENCH + ADAPTER, "utf-8")
    torque = [f"{value:.2f}" for value in CLICK.torques]
    written = Written([f"{at / 1000:f}" for at in range(len(torque))], torque, None, "N·m")
    async with service(tmp_path) as up, client(up) as http:
        body = {"instrument": "adapter-1", "unit": "N·m", "torque": torque, "interval_us": 1000}
        reading = (await http.post("/v1/pulls", json=body)).json()
        where = f"/v1/traces/{reading['trace']['sha256']}"
        assert where.endswith(digest(written))
        found = await http.get(where, headers={"Accept": "image/avif,image/svg+xml,*/*"})
        assert found.headers["content-type"] == "image/svg+xml"
        assert "default-src 'none'" in found.headers["content-security-policy"]
        assert found.headers["vary"] == "Accept"
        assert "Simulated" not in said(ET.fromstring(found.text))
        link = await http.get(where, params={"as": "svg", "reading": reading["seq"]})
        words = said(ET.fromstring(link.text))
        assert f"Torque of adapter-1, reading {reading['seq']}" in words
        assert "Simulated" in words
        table = await http.get(where, params={"as": "csv"}, headers={"Accept": "image/svg+xml"})
        assert table.text.startswith("seconds,torque")
        assert (await http.get(where)).json()["torque"] == torque
        assert (await http.get(where, params={"as": "png"})).status_code == 422
        other = await http.get(where, params={"as": "svg", "reading": 1})
        assert other.status_code == 404
        assert "not made of this trace" in other.json()["detail"]


def test_marks_of_what_cannot_be_read_as_a_turning_test() -> None:
    still = Trace([0.0, 0.1, 0.2, 0.3], [0.0, 0.0, 0.0, 0.0], None, "N·m")
    marks = marks_of(still, turning=True)
    assert marks == replace(Marks(), sentences=marks.sentences)
