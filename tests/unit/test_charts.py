"""Charts over builds: what counts, what stands together, what is left out, what is said."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from capture import command as c
from capture.build import Build, Fill
from capture.charts.answer import summary, whole
from capture.charts.chart import LEAST, chart_of
from capture.charts.gather import Gathered, Sort, gathered
from capture.charts.signal import Signal
from capture.charts.subgroup import Form, Together, chance_of_means, forms, usual_form
from capture.desk import Card
from tests.charted import builds, measured
from tests.paper import GOOD_BORES, Paper
from tests.unit.test_glance import desk_of


def looked_at(paper: Paper, build: str) -> Gathered:
    card = paper.desk.cards[build]
    return gathered(card, paper.desk.build(build))


def values(found: Gathered, name: str) -> list[str]:
    return [format(one.value, "f") for one in found.whole[name].values]


def pump(paper: Paper) -> str:
    """A pump with its barrels and plungers measured."""
    build = paper.ready()
    paper.bores(*GOOD_BORES * 3)
    for digits in ("19.980", "19.981", "19.979"):
        paper.press(digits)
    return build


# what counts ----------------------------------------------------------------------------------


def test_a_size_is_whole_once_every_place_is_measured() -> None:
    paper = Paper()
    build = paper.ready()
    paper.bores(*GOOD_BORES * 2)
    found = looked_at(paper, build)
    assert "barrel-bore" not in found.whole
    assert "barrel-bore" in found.begun
    assert "plunger-diameter" not in found.begun
    paper.bores(*GOOD_BORES)
    found = looked_at(paper, build)
    assert values(found, "barrel-bore") == ["20.010", "20.011", "20.009", "20.008"] * 3
    assert [one.point for one in found.whole["barrel-bore"].values][:2] == ["top-a", "top-b"]
    assert found.begun == set()


def test_what_is_derived_comes_with_the_entry_that_decided_it() -> None:
    paper = Paper()
    found = looked_at(paper, pump(paper)).whole["plunger-clearance"]
    assert (found.sort, found.numbers, found.points) == (Sort.DERIVED, 3, 1)
    assert (found.lower, found.upper) == ("0.005", "0.050")
    for one in found.values:
        entry = paper.entry(one.entry)
        assert entry is not None
        told = {each["number"]: each["verdict"] for each in entry["body"]["derived"]
                if each["id"] == "plunger-clearance"}  # fmt: skip
        assert told[one.number]["measured"] == format(one.value, "f")
        assert one.presses == ()


def test_what_rests_on_a_voided_size_is_not_there() -> None:
    paper = Paper()
    build = pump(paper)
    bore = looked_at(paper, build).whole["barrel-bore"].values[0]
    paper.do(c.Void(bore.presses[0], "It rocked."))
    found = looked_at(paper, build)
    assert "plunger-clearance" in found.begun  # of the two other barrels
    assert "plunger-clearance" not in found.whole


def test_a_voided_reading_leaves_its_size_unfinished_until_it_is_measured_again() -> None:
    paper = Paper()
    build = pump(paper)
    second = looked_at(paper, build).whole["plunger-diameter"].values[1]
    paper.do(c.Void(second.presses[0], "Slipped."))
    assert "plunger-diameter" in looked_at(paper, build).begun
    paper.press("19.985")
    assert values(looked_at(paper, build), "plunger-diameter") == ["19.980", "19.985", "19.979"]


def test_a_gap_that_not_even_the_thinnest_leaf_enters_stands_at_its_middle() -> None:
    desk, build = desk_of(count=1)
    for at, (low, high) in enumerate((("0", "0.20"), ("0.20", "0.25"))):
        ends = Decimal(low), Decimal(high)
        build.fill(at, Fill(10 + at, 20 + at, ends[1], None, None, "nonconforming", bracket=ends))
    found = gathered(desk.cards["b2"], build)
    assert [one.value for one in found.whole["diameter"].values] == [
        Decimal("0.10"), Decimal("0.225"),
    ]  # fmt: skip


def test_after_rework_only_the_new_pass_counts() -> None:
    paper = Paper()
    build = pump(paper)
    paper.do(c.Rework(build, "plunger", 2, "Ground."))
    assert "plunger-diameter" not in looked_at(paper, build).whole
    paper.press("19.983")
    assert values(looked_at(paper, build), "plunger-diameter") == ["19.980", "19.983", "19.979"]


def test_turning_torque_is_a_quantity_too() -> None:
    paper = Paper()
    build = pump(paper)
    for digits in ("10.0",) * 4 + ("25.0",) * 4:
        paper.press(digits, "wrench", "N·m")
    paper.press("1.5", "wrench", "N·m")
    found = looked_at(paper, build).whole["turns"]
    assert (found.sort, found.numbers, found.position) == (Sort.TURNING, 1, "")
    assert [format(one.value, "f") for one in found.values] == ["1.5"]


# what stands together -------------------------------------------------------------------------


def test_the_chart_follows_from_what_a_build_gives() -> None:
    one = chart_of(builds([["5"], ["6"], ["7"]]), "bore")
    assert (one.form, one.together) == (Form.INDIVIDUALS, Together.ONE)
    sisters = chart_of(builds([["5", "6"], ["6", "8"], ["7", "7"]]), "bore")
    assert (sisters.form, sisters.together) == (Form.RANGES, Together.SISTERS)
    assert sisters.points[0].subgroup.values == (Decimal(5), Decimal(6))
    points = chart_of(builds([["5", "6", "7"]] * 3, points=3), "bore")
    assert (points.form, points.together) == (Form.RANGES, Together.POINTS)
    assert points.points[0].subgroup.names == ("p1", "p2", "p3")


def test_a_sister_of_several_points_stands_there_with_their_mean() -> None:
    chart = chart_of(builds([["5.0", "5.2", "6.0", "6.4"]] * 3, points=2), "bore")
    assert chart.points[0].subgroup.names == ("1", "2")
    assert chart.points[0].subgroup.values == (Decimal("5.1"), Decimal("6.2"))
    (first, second) = whole(chart)["points"][0]["values"]
    assert (first["value"], first["readings"]) == ("5.100", [10, 11])
    assert (second["value"], second["entry"]) == ("6.200", 53)


def test_of_many_values_the_standard_deviation_is_charted() -> None:
    assert [usual_form(size) for size in (1, 2, 10, 11)] == [
        Form.INDIVIDUALS, Form.RANGES, Form.RANGES, Form.DEVIATIONS,
    ]  # fmt: skip
    assert all(usual_form(size) == forms(size)[0] for size in range(1, 30))
    with pytest.raises(ValueError, match="no mean-and-range chart of 12 values"):
        chart_of(builds([["5"] * 12] * 3), "bore", Form.RANGES)


def test_another_form_can_be_asked_for() -> None:
    found = whole(chart_of(builds([["5", "6"], ["6", "8"], ["7", "7"]]), "bore", Form.INDIVIDUALS))
    assert [one["mean"] for one in found["points"]] == ["5.50", "7.00", "7.00"]
    assert [one["spread"] for one in found["points"]] == [None, "1.50", "0.00"]
    assert found["chance"] is None


def test_nothing_is_said_of_chance_where_nothing_scatters_inside() -> None:
    assert chance_of_means([(Decimal(5), Decimal(5)), (Decimal(6), Decimal(6))]) is None
    assert chance_of_means([(Decimal(5), Decimal(6))]) is None
    assert chance_of_means([(Fraction(1, 3), Decimal(1)), (Decimal(9), Decimal(8))]) == (
        pytest.approx(0.006, abs=0.002)
    )


# what is left out, and limits -----------------------------------------------------------------


def test_builds_of_another_kind_are_left_out_by_name() -> None:
    good = builds([["5", "6"], ["6", "8"], ["7", "7"]])
    inches = good[0]._replace(build="in", whole={"bore": measured(["0.2", "0.3"], unit="in")})
    three = good[0]._replace(build="three", whole={"bore": measured(["5", "6", "7"])})
    torque = good[0]._replace(build="torque", whole={"bore": measured(["5", "6"], unit="N·m")})
    begun = good[0]._replace(build="begun", whole={}, begun=frozenset({"bore"}))
    none = good[0]._replace(build="none", whole={})
    chart = chart_of([inches, three, torque, begun, none, *good], "bore")
    assert [(one.gathered.build, one.why) for one in chart.left_out] == [
        ("three", "other-size"), ("torque", "other-unit"), ("begun", "unfinished"),
    ]  # fmt: skip
    assert chart.points[0].subgroup.values == (Decimal("5.08"), Decimal("7.62"))  # exactly
    with pytest.raises(KeyError):
        chart_of([none], "bore")


def test_a_revision_for_another_size_is_no_drift() -> None:
    """Bored out by half a millimetre: no size can be within the limits of both."""
    new = builds([["86.51"], ["86.52"], ["86.51"]], lower="86.50", upper="86.53")
    old = builds([["86.01"], ["86.02"]], lower="86.00", upper="86.03")
    inch = old[0]._replace(
        build="in", whole={"bore": measured(["3.4059"], unit="in", lower="3.4055", upper="3.407")}
    )
    wide = old[0]._replace(build="wide", whole={"bore": measured(["86.52"], lower="86.2")})
    chart = chart_of([*old, inch, wide, *new], "bore")
    assert [one.why for one in chart.left_out] == ["other-limits", "other-limits"]
    assert [one.gathered.build for one in chart.points[:2]] == ["in", "wide"]


def test_limits_want_three_builds_and_are_on_trial_up_to_twenty() -> None:
    two = whole(chart_of(builds([["5", "6"]] * (LEAST - 1)), "bore"))
    assert (two["control"], two["spread_control"], two["trial"]) == (None, None, True)
    assert [one["spread"] for one in two["points"]] == ["1", "1"]
    assert whole(chart_of(builds([["5", "6"]] * 19), "bore"))["trial"]
    assert not whole(chart_of(builds([["5", "6"]] * 20), "bore"))["trial"]


def test_limits_of_size_are_listed_by_revision_and_never_computed() -> None:
    made = builds([["5"], ["6"], ["7"]], lower="4", upper="9")
    made[2] = made[2]._replace(revision="2", whole={"bore": measured(["7"], lower="4", upper="8")})
    said = whole(chart_of(made, "bore"))
    assert said["size_limits"] == [
        {"lower": "4", "upper": "8", "unit": "mm", "revisions": ["2"]},
        {"lower": "4", "upper": "9", "unit": "mm", "revisions": ["1"]},
    ]
    follows = whole(chart_of(builds([["5"]] * 3, follows="ring-bore"), "bore"))
    assert (follows["size_limits"], follows["follows"]) == ([], "ring-bore")


def test_a_build_far_off_stands_out_and_says_why() -> None:
    chart = chart_of(builds([["5.0"], ["5.3"]] * 10 + [["8.0"]]), "bore")
    assert chart.points[-1].signals == (Signal.BEYOND,)
    assert chart.points[-1].spread_signals == (Signal.BEYOND,)
    assert summary(chart)["signals"] == 1
    assert whole(chart)["points"][-1]["signals"] == ["beyond"]


def test_digits_as_sent_and_computed_ones_with_two_more() -> None:
    said = whole(chart_of(builds([["5.010"], ["5.020"], ["5.030"]]), "bore"))
    assert [one["mean"] for one in said["points"]] == ["5.010", "5.020", "5.030"]
    assert [one["spread"] for one in said["points"]] == [None, "0.010", "0.010"]
    assert said["control"]["centre"] == "5.02000"


def test_gathering_asks_only_a_build() -> None:
    """A card and a build are all it takes: no desk, no instruments."""
    paper = Paper()
    build = pump(paper)
    card = paper.desk.cards[build]
    made = Build(card.id, card.seq, paper.desk.specs[card.spec].spec, 1, "x")
    assert gathered(Card("b1", 1, card.spec, "x", "2026"), made).whole == {}
