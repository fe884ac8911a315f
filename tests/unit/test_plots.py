"""Plots: marks stand where their numbers say, limits have words, nothing is told by tone alone."""

from __future__ import annotations

import io
import math
import xml.etree.ElementTree as ET
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import typst
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from api.labels.catalogue import labels
from api.pictures.against import against_band, growth
from api.pictures.bore_map import Sized, bore_map
from api.pictures.control import Charted, control_chart
from api.pictures.drawing import draw_step
from api.pictures.drift import Check, Moment, drift_chart
from api.pictures.plot import apart
from api.pictures.scale import around
from api.pictures.streak import streak
from api.pictures.values import Line, Value, number, said
from tests.unit.spec_page import loaded, page
from tests.unit.test_drawings import NAME, desc, sound, steps, texts

ENGLISH, GERMAN = labels("en"), labels("de")
FOUR = [
    Value("1", "0.052", "0.003", result="conforming", href="/readings/7"),
    Value("2", "0.063", "0.003", result="undecided"),
    Value("3", "0.071", "0.003", result="nonconforming"),
    Value("4", None),
]
BORES = [
    Sized(n, depth, axis, f"{86.010 + n / 1000 + d / 500 + a / 1000:.3f}", "conforming")
    for n in (1, 2, 3)
    for d, depth in enumerate(("bottom", "top"))
    for a, axis in enumerate(("thrust", "axial"))
]


def by_class(picture: ET.Element, name: str) -> list[ET.Element]:
    return [one for one in picture.iter() if one.get("class") == name]


def scale(picture: ET.Element) -> tuple[float, float]:
    """Slope and intercept of heights over numbers, by the numbers on the left of the grid."""
    found = []
    for one in picture.iter(f"{NAME}text"):
        if one.get("text-anchor") == "end":
            found.append((float(str(one.text).replace("−", "-")), float(str(one.get("y"))) - 5.5))
    (low, bottom), (high, top) = min(found), max(found)
    slope = (top - bottom) / (high - low)
    for value, y in found:
        assert y == pytest.approx(bottom + slope * (value - low), abs=0.2)
    return slope, bottom - slope * low


def heights(picture: ET.Element) -> list[float]:
    """Of round marks."""
    return [float(str(one.get("cy"))) for one in by_class(picture, "mark") if one.get("cy")]


# values against their band ---------------------------------------------------------------------


def test_marks_and_limits_stand_at_their_numbers() -> None:
    picture = sound(
        against_band(
            FOUR, labels=ENGLISH, title="Piston clearance", unit="mm", lower="0.040",
            upper="0.064", lines=[Line("0.052", "target")], name="Cylinder",
        )
    )  # fmt: skip
    slope, zero = scale(picture)
    assert slope < 0, "more is higher"
    assert heights(picture) == [pytest.approx(zero + slope * 0.052, abs=0.2)]
    levels = sorted(float(str(one.get("y1"))) for one in by_class(picture, "level"))
    assert levels == [pytest.approx(zero + slope * at, abs=0.2) for at in (0.064, 0.052, 0.040)]
    spans = by_class(picture, "span")
    assert len(spans) == 3
    for one, value in zip(spans, (0.052, 0.063, 0.071), strict=True):
        ends = sorted(float(str(one.get(key))) for key in ("y1", "y2"))
        wanted = [zero + slope * (value + u) for u in (0.003, -0.003)]
        assert ends == [pytest.approx(y, abs=0.2) for y in wanted]
    words = texts(picture)
    assert {"upper limit 0.064", "lower limit 0.040", "target 0.052", "Cylinder", "mm"} <= set(
        words
    )
    assert [one.get("data-result") for one in by_class(picture, "mark")] == [
        "conforming", "undecided", "nonconforming"
    ]  # fmt: skip
    assert len({one.tag + str(one.get("d"))[-30:] for one in by_class(picture, "mark")}) == 3


def test_a_plot_says_in_words_what_it_shows() -> None:
    svg = against_band(FOUR, labels=GERMAN, title="Spiel", unit="mm", lower="0.040", upper="0.064")
    picture = sound(svg)
    assert desc(picture) == (
        "obere Grenze 0.064. untere Grenze 0.040. "
        f"1: 0.052 ± 0.003 mm, {GERMAN.named('common.verdict', 'conforming')}. "
        f"2: 0.063 ± 0.003 mm, {GERMAN.named('common.verdict', 'undecided')}. "
        f"3: 0.071 ± 0.003 mm, {GERMAN.named('common.verdict', 'nonconforming')}. "
        "4: fehlt."
    )
    assert picture.get("role") == "group"
    assert [one.get("href") for one in picture.iter(f"{NAME}a")] == ["/readings/7"]
    plain = against_band(FOUR[1:], labels=GERMAN, title="Spiel", unit="mm")
    assert sound(plain).get("role") == "img"
    many = [Value(str(n), n) for n in range(100)]
    assert "100 Werte." in desc(sound(against_band(many, labels=GERMAN, title="x", unit="mm")))


def test_each_value_may_have_limits_of_its_own() -> None:
    values = [
        Value("1", None, bracket=("0.40", "0.45"), lower="0.344", upper="0.559"),
        Value("2", None, bracket=(None, "0.30"), lower="0.346", upper="0.562"),
    ]
    picture = sound(against_band(values, labels=ENGLISH, title="Gap", unit="mm"))
    slope, zero = scale(picture)
    found = [float(str(one.get("y1"))) for one in by_class(picture, "limit")]
    wanted = (0.344, 0.559, 0.346, 0.562)
    assert found == [pytest.approx(zero + slope * at, abs=0.2) for at in wanted]
    whole, open_ = by_class(picture, "bracket")
    assert float(str(whole.get("y"))) == pytest.approx(zero + slope * 0.45, abs=0.2)
    assert float(str(whole.get("height"))) == pytest.approx(-slope * 0.05, abs=0.2)
    foot = float(str(open_.get("y"))) + float(str(open_.get("height")))
    assert foot > zero + slope * 0.30 + 5, "it goes on to the foot of the plot"
    assert "2: … – 0.30 mm." in desc(picture)


def test_growth_goes_on_in_order_and_begins_at_zero() -> None:
    values = [
        Value("crank", "2.5", "0.2", lower="1.0", upper="6.0"),
        Value("piston 1", None, bracket=("7", "9"), lower="4.0", upper="28.0"),
        Value("piston 2", "12.5", lower="4.0", upper="28.0"),
    ]
    picture = sound(growth(values, labels=ENGLISH, title="Turning torque", unit="N·m"))
    slope, zero = scale(picture)
    line = by_class(picture, "joined")[0]
    points = [tuple(map(float, pair.split(","))) for pair in str(line.get("points")).split()]
    assert [y for _, y in points] == [
        pytest.approx(zero + slope * at, abs=0.2) for at in (2.5, 8, 12.5)
    ]
    assert [x for x, _ in points] == sorted(x for x, _ in points)
    assert "0" in texts(picture)
    assert len(by_class(picture, "limit")) == 6


# bore map --------------------------------------------------------------------------------------


def test_a_bore_map_has_a_panel_for_each_bore_with_the_top_on_top() -> None:
    picture = sound(
        bore_map(
            BORES, labels=ENGLISH, title="Bore", unit="mm", lower="86.000", upper="86.030",
            depths=("top", "bottom"), axes=("thrust", "axial"), name="Cylinder",
        )
    )  # fmt: skip
    words = list(picture.iter(f"{NAME}text"))
    at = {str(one.text): (float(str(one.get("x"))), float(str(one.get("y")))) for one in words}
    assert at["Cylinder 1"][0] < at["Cylinder 2"][0] < at["Cylinder 3"][0]
    assert at["top"][1] < at["bottom"][1]
    lines = by_class(picture, "joined")[2:]
    assert len(lines) == 6, "a line for each direction of each bore"
    assert len({one.get("stroke-dasharray") for one in lines}) == 2
    marks = by_class(picture, "mark")
    assert len(marks) == len(BORES)
    assert "1 bottom thrust: 86.011 mm, Conforming." in desc(picture)
    assert "lower limit 86.000 mm, upper limit 86.030 mm." in words[1].itertext()


def test_sizes_of_a_bore_map_share_one_scale() -> None:
    sizes = [Sized(n, "", "", f"{86 + n / 100:.2f}") for n in (1, 2, 3)]
    picture = sound(bore_map(sizes, labels=ENGLISH, title="x", unit="mm"))
    frames = list(picture.iter(f"{NAME}rect"))
    marks = by_class(picture, "mark")
    far = [
        (float(str(m.get("cx"))) - float(str(f.get("x")))) / float(str(f.get("width")))
        for m, f in zip(marks, frames, strict=True)
    ]
    assert far[1] - far[0] == pytest.approx(far[2] - far[1], abs=0.01)
    assert far[0] < far[2] - 0.5


def test_a_panel_has_two_numbers_at_least() -> None:
    """One number alone is no scale."""
    picture = sound(
        bore_map(BORES, labels=ENGLISH, title="x", unit="mm", lower="86.000", upper="86.030")
    )
    assert texts(picture).count("86.00") == 3
    assert texts(picture).count("86.03") == 3


def test_many_bores_go_into_rows() -> None:
    sizes = [Sized(n, "", "x", n) for n in range(1, 15)]
    picture = sound(bore_map(sizes, labels=ENGLISH, title="x", unit="mm"))
    tall = float(str(picture.get("viewBox")).split()[3])
    one = sound(bore_map(sizes[:6], labels=ENGLISH, title="x", unit="mm"))
    assert tall > 2.5 * float(str(one.get("viewBox")).split()[3])


# charts ----------------------------------------------------------------------------------------


def test_a_control_chart_draws_signals_by_shape_and_gaps_as_gaps() -> None:
    points = [Charted(f"b{n}", f"86.01{n % 3}") for n in range(8)]
    points[3] = Charted("b3", "86.026", ("beyond a control limit",), "/readings/3")
    points[5] = Charted("b5", None)
    points[6] = Charted("b6", "86.020", left_out=True)
    picture = sound(
        control_chart(
            points, labels=ENGLISH, title="Bore", unit="mm", centre="86.0110",
            lower_control="86.0030", upper_control="86.0190", lower_limit="86.000",
            upper_limit="86.030", name="build",
        )
    )  # fmt: skip
    slope, zero = scale(picture)
    signal = by_class(picture, "signal")
    assert [float(str(one.get("cy"))) for one in signal] == [
        pytest.approx(zero + slope * 86.026, abs=0.3)
    ]
    assert len(by_class(picture, "joined")) == 1, "what stands alone after a gap is not joined"
    assert sum(one.get("fill") == "none" for one in by_class(picture, "mark")) == 2
    dashes = [one.get("stroke-dasharray") for one in by_class(picture, "level")]
    assert dashes.count(None) == 2, "limits of the spec"
    assert len(set(dashes)) == 3, "three kinds of line"
    assert {"out of control", "not counted", "centre line 86.0110"} <= set(texts(picture))
    assert "b3: 86.026 mm, beyond a control limit." in desc(picture)
    assert "b5: missing." in desc(picture)


def test_a_range_chart_begins_at_zero_and_subgroups_have_their_own_limits() -> None:
    points = [Charted("1", "0.004", upper="0.011"), Charted("2", "0.006", upper="0.009")]
    svg = control_chart(points, labels=GERMAN, title="Bohrung", unit="mm", of="range")
    picture = sound(svg)
    scale(picture)
    assert "0.000" in texts(picture)
    assert len(by_class(picture, "limit")) == 2
    assert "Spannweite der Stichprobe, mm" in texts(picture)


def test_a_drift_chart_is_true_to_time() -> None:
    checks = [
        Check("2026-01-01T00:00:00Z", "0.0001", "0.0005"),
        Check("2026-01-11T00:00:00Z", "-0.0004"),
        Check("2026-01-21T01:00:00+01:00", "0.0012", result="nonconforming"),
    ]
    picture = sound(
        drift_chart(
            checks, labels=ENGLISH, title="Zero", unit="mm", lower="-0.001", upper="0.001",
            moments=[Moment("2026-01-11", "calibrated")],
        )
    )  # fmt: skip
    line = by_class(picture, "joined")[0]
    xs = [float(pair.split(",")[0]) for pair in str(line.get("points")).split()]
    assert xs[1] - xs[0] == pytest.approx(xs[2] - xs[1], abs=0.2)
    assert float(str(by_class(picture, "moment")[0].get("x1"))) == pytest.approx(xs[1], abs=0.2)
    assert "calibrated" in texts(picture)
    assert any(word.startswith("2026-01-") for word in texts(picture))
    assert "2026-01-11: calibrated." in desc(picture)
    assert "−0.0004 mm" in desc(picture)


def test_a_gauge_that_is_set_anew_every_day_leaves_room_for_its_drift() -> None:
    days = [f"2026-{month:02d}-{day:02d}" for month in range(1, 8) for day in range(1, 28)]
    checks = [Check(f"{day}T08:00:00Z", "0.001", "0.002") for day in days]
    moments = [Moment(f"{day}T07:00:00Z", "set anew") for day in days]
    kept: Any = {"labels": ENGLISH, "title": "Zero", "unit": "mm"}
    picture = sound(drift_chart(checks, **kept, moments=moments))
    (frame,) = [one for one in picture.iter(f"{NAME}rect") if one.get("fill") == "none"]
    assert float(str(frame.get("height"))) > 120
    assert len(by_class(picture, "moment")) == len(days)
    assert 4 <= texts(picture).count("set anew") < 40


def test_a_long_title_below_a_column_is_cut_and_told_whole() -> None:
    title = "Engine for the long-tailed boat, second try"
    kept: Any = {"labels": ENGLISH, "title": "Bore", "unit": "mm"}
    picture = sound(control_chart([Charted(title, "1.0")], **kept))
    (said_below,) = [one for one in texts(picture) if one.startswith("Engine")]
    assert said_below == "Engine for the long-tai…"
    assert f"{title}: 1.0 mm." in desc(picture)


def test_a_streak_rings_what_stands_out_and_gives_no_verdict() -> None:
    values = ["86.01", None, "86.04", 85.9]
    svg = streak(values, labels=ENGLISH, lower="86.00", upper="86.03", out=[2], title="Bore")
    picture = sound(svg)
    marks, (ring,) = by_class(picture, "mark"), by_class(picture, "signal")
    # beyond a control limit is no nonconformity
    assert [one.get("data-result") for one in marks] == [None, None, None]
    assert (ring.get("cx"), ring.get("cy")) == (marks[1].get("cx"), marks[1].get("cy"))
    assert not texts(picture)
    assert desc(picture) == "86.01, missing, 86.04 (out of control), 85.9"


# numbers ---------------------------------------------------------------------------------------


def test_digits_are_shown_as_sent() -> None:
    assert said("86.0100") == "86.0100"
    assert said("-0.010") == "−0.010"
    assert said(Decimal("1E+2")) == "100"
    assert said(Fraction(1, 3)) == "0.333333"
    assert said(4) == "4"
    assert number("−0.5".replace("−", "-")) == -0.5


@given(
    st.lists(st.floats(-1e9, 1e9), min_size=1, max_size=9),
    st.integers(2, 9),
    st.booleans(),
)
def test_an_axis_holds_every_value_between_round_numbers(
    values: list[float], steps: int, tight: bool
) -> None:
    found = around(values, steps, tight=tight)
    assert found.low <= min(values)
    assert max(values) <= found.high
    assert found.low < found.high
    assert len(found.ticks) == len(found.labels)
    assert len(found.ticks) <= steps + 4
    assert len(set(found.labels)) == len(found.labels)


@given(st.lists(st.floats(0, 300), max_size=9))
def test_words_of_lines_stand_apart(heights: list[float]) -> None:
    found = apart(sorted(heights), 19, 0, 300)
    assert all(b - a >= 18.99 for a, b in pairwise(found))


SIZES = st.none() | st.floats(-1e6, 1e6) | st.decimals(-1000, 1000, places=4).map(str)


@settings(max_examples=80)
@given(st.lists(SIZES, max_size=7), SIZES, SIZES)
def test_any_values_are_drawn(
    sizes: list[str | float | None], lower: str | float | None, upper: str | float | None
) -> None:
    limits: Any = {"lower": lower, "upper": upper}
    values = [Value(str(n), one, abs(number(one or 0)) / 9) for n, one in enumerate(sizes)]
    checks = [Check(f"2026-01-0{n + 1}", one) for n, one in enumerate(sizes)]
    sized = [Sized(n % 3, f"d{n % 2}", "a", one) for n, one in enumerate(sizes)]
    kept: Any = {"labels": ENGLISH, "title": "<x> & y", "unit": "mm"}
    for svg in (
        against_band(values, **kept, **limits),
        growth(values, **kept),
        control_chart([Charted(str(n), one) for n, one in enumerate(sizes)], **kept, centre=lower),
        drift_chart(checks, **kept, **limits),
        bore_map(sized, **kept, **limits),
    ):
        picture = sound(svg)
        assert picture.findtext(f"{NAME}title") == "<x> & y"
        wide, high = (float(one) for one in str(picture.get("viewBox")).split()[2:])
        for mark in by_class(picture, "mark"):
            if mark.get("cx"):
                assert 0 <= float(str(mark.get("cx"))) <= wide
                assert 0 <= float(str(mark.get("cy"))) <= high
    sound(streak(sizes, labels=ENGLISH, **limits))


def test_paper_takes_plots_and_drawings(tmp_path: Path) -> None:
    """What sets the sheet's PDF draws them whole: lines, limits and letters, in black."""
    spec = loaded(page())
    step = next(step for step in steps(spec).values() if step.kind == "tighten")
    svgs = {
        "plot": against_band(FOUR, labels=ENGLISH, title="x", unit="mm", lower="0.04"),
        "part": draw_step(spec, step, labels=ENGLISH),
    }
    for name, svg in svgs.items():
        (tmp_path / f"{name}.svg").write_text(svg, "utf-8")
        sheet = tmp_path / f"{name}.typ"
        sheet.write_text(f'#set page(width: 72pt, height: 40pt, margin: 0pt)\n#image("{name}.svg")')
        made = typst.compile(str(sheet), format="png", ppi=360)
        assert isinstance(made, bytes)
        picture = Image.open(io.BytesIO(made)).convert("L")
        dark = sum(picture.histogram()[:80])
        assert 500 < dark < picture.width * picture.height / 2, name


def test_one_moment_or_none_is_drawn_all_the_same() -> None:
    once = [Check("2026-01-01T08:00:00Z", "0.001")]
    picture = sound(drift_chart(once, labels=ENGLISH, title="x", unit="mm"))
    assert all(math.isfinite(y) for y in heights(picture))
    empty = sound(drift_chart([], labels=GERMAN, title="x", unit="mm"))
    assert "noch keine Werte" in texts(empty)
