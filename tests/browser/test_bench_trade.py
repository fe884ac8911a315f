"""What the trade adds to the bench page: brackets, zero checks, studies; all invented."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.engine import BENCH, BORES, CHECK, GAP, STUDY, TURNING, Bench
from tests.browser.hands import choose, dialog, keys
from tests.browser.seen import DESK, picture
from tests.served import served


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    (tmp_path / "bench.toml").write_text(BENCH, "utf-8")
    with served(tmp_path) as up, Bench(base_url=up["url"]) as http:
        yield http


# brackets ----------------------------------------------------------------------------------------


def test_a_bracket_is_entered_by_the_keyboard_alone(page: Page, bench: Bench) -> None:
    build = bench.build(GAP)
    expect(page.locator("#next-facts")).to_contain_text("the leaf that goes")
    keys(page, "t")
    expect(dialog(page)).to_contain_text("Which leaf goes?")
    keys(page, "Enter")  # nothing is chosen beforehand
    expect(page.locator("#ask-problem")).to_have_text("Choose one.")
    keys(page, *["ArrowRight"] * 6)  # from 0.05 to 0.35
    chosen = dialog(page).locator("input:checked")
    expect(chosen).to_have_value("0.35")
    for typed, leaf in (("0.4", "0.40"), ("25", "0.25"), ("0,35", "0.35")):
        # Digits choose a leaf; others begin anew.
        page.keyboard.type(typed, delay=1)
        expect(chosen).to_have_value(leaf)
        keys(page, "ArrowRight", "ArrowLeft")
    picture(page, "leaf-goes")
    keys(page, "Enter")
    expect(dialog(page)).to_contain_text("Leaf beside 0.35")
    keys(page, *["ArrowRight"] * 5, "Enter")  # 0.30
    expect(dialog(page)).to_contain_text("And on the other side?")
    keys(page, "Enter")
    expect(page.locator("#ask-problem")).to_have_text("Choose one.")
    keys(page, *["ArrowRight"] * 6, "Enter")  # past 0.30, there is no 0.35: 0.40
    expect(dialog(page)).to_contain_text("Which does not go?")
    keys(page, "Space", "Enter")  # the first that is thicker
    expect(dialog(page)).to_contain_text("0.35 – 0.40 mm")
    expect(dialog(page)).to_contain_text("Conforming")
    picture(page, "leaf-told")
    keys(page, "Enter")
    expect(dialog(page)).to_be_hidden()
    expect(page.get_by_role("button", name="Enter the two values")).to_be_focused()
    expect(page.locator("#digits")).to_have_text("0.35 – 0.40")
    expect(page.locator("#unit")).to_have_text("mm")
    (reading,) = bench.get("/v1/readings").json()["readings"]
    assert reading["bracket"] == {
        "lower": "0.35", "upper": "0.40", "leaves": ["0.35"], "beside": ["0.30", "0.40"],
    }  # fmt: skip
    assert bench.next(build)["step"]["number"] == 2
    picture(page, "bracket-last")


def test_a_hidden_leaf_is_asked_for_again(page: Page, bench: Bench) -> None:
    build = bench.build(GAP)
    page.get_by_role("button", name="Enter the two values").click()
    choose(page, "0.40")
    choose(page, "0.30")  # 0.35 stands hidden behind 0.40
    choose(page, "0.45")
    choose(page, "0.45")
    expect(dialog(page)).to_contain_text("Not counted: A leaf is hidden behind another")
    expect(dialog(page)).to_contain_text("Between 0.30 and 0.45 stand 0.35 and 0.40")
    picture(page, "leaf-hidden")
    assert bench.next(build)["step"]["number"] == 1
    page.get_by_role("button", name="Enter it again").click()
    expect(dialog(page)).to_contain_text("Which leaf goes?")
    expect(dialog(page).locator("input:checked")).to_have_count(0)
    choose(page, "0.35")
    choose(page, "0.40")
    choose(page, "0.30")
    choose(page, "0.40")
    expect(dialog(page)).to_contain_text("Conforming")
    page.get_by_role("button", name="Go on").click()
    expect(page.locator("#holds")).to_contain_text("A leaf is hidden behind another")
    expect(page.locator("#holds")).to_contain_text("0.40 – 0.45 mm")
    assert bench.next(build)["step"]["number"] == 2


def test_leaves_are_stacked_and_pages_go_back(page: Page, bench: Bench) -> None:
    bench.build(GAP)
    page.get_by_role("button", name="Enter the two values").click()
    dialog(page).get_by_label("Several leaves stacked").check()
    choose(page, "0.15", "0.20")
    expect(dialog(page)).to_contain_text("0.15 + 0.20 mm goes")
    choose(page, "0.10")
    page.get_by_role("button", name="Back").click()
    choose(page, "0.25")
    choose(page, "0.10")
    choose(page, "0.40")
    expect(dialog(page)).to_contain_text("0.35 – 0.40 mm")
    (reading,) = bench.get("/v1/readings").json()["readings"]
    assert reading["bracket"]["leaves"] == ["0.15", "0.20"]
    assert reading["bracket"]["beside"] == ["0.25", "0.10"]


def test_a_gap_may_be_beyond_either_end_of_the_set(page: Page, bench: Bench) -> None:
    bench.build(GAP)
    page.get_by_role("button", name="Enter the two values").click()
    choose(page, "Not even the thinnest")
    expect(dialog(page)).to_contain_text("The thinnest, which does not go")  # no neighbours
    page.get_by_role("button", name="Back").click()
    expect(dialog(page)).to_contain_text("Which leaf goes?")
    choose(page, "Not even the thinnest")
    choose(page, "0.05")
    expect(dialog(page)).to_contain_text("below 0.05 mm")
    page.get_by_role("button", name="Go on").click()
    page.get_by_role("button", name="Enter the two values").click()
    choose(page, "0.50")
    choose(page, "None: an end of the fan")
    choose(page, "0.45")
    choose(page, "The thickest goes too")
    expect(dialog(page)).to_contain_text("0.50 mm or more")
    found = [one["bracket"] for one in bench.get("/v1/readings").json()["readings"]]
    assert found[0] == {"lower": None, "upper": "0.05", "leaves": [], "beside": None}
    assert found[1]["beside"] == [None, "0.45"]
    assert found[1]["upper"] is None


def test_a_click_tool_is_raised_until_it_turns(page: Page, bench: Bench) -> None:
    build = bench.build(TURNING)
    page.get_by_role("button", name="Enter the two values").focus()
    keys(page, "Enter")
    expect(dialog(page)).to_contain_text("it clicked, and nothing turned")
    page.keyboard.type("1,005.5")
    keys(page, "Enter")
    expect(page.locator("#ask-problem")).to_contain_text("without a mark between the thousands")
    keys(page, "Control+a")
    page.keyboard.type("6,0")  # the keypad of a telephone may have no point
    keys(page, "Enter")
    expect(dialog(page)).to_contain_text("At 6.0 N·m it clicked.")
    page.keyboard.type("5")
    keys(page, "Enter")  # crossed: said at once, and nothing is stored
    expect(page.locator("#ask-problem")).not_to_be_empty()
    assert bench.get("/v1/readings").json()["readings"] == []
    keys(page, "Control+a")
    page.keyboard.type("6.5")
    picture(page, "click-turned")
    keys(page, "Enter")
    expect(dialog(page)).to_contain_text("6.0 – 6.5 N·m")
    keys(page, "Enter")
    expect(page.locator("#verdict")).to_have_text("Conforming")
    assert bench.next(build)["done"] is True


# zero checks -------------------------------------------------------------------------------------


def test_a_drifted_set_is_measured_again(page: Page, bench: Bench) -> None:
    build = bench.drifted()
    expect(page.locator("#verdict")).to_have_text("Zero has moved")
    holds = page.locator("#holds li")
    expect(holds).to_have_count(1)  # its marked readings and what rests on them are in it
    expect(holds).to_contain_text("its zero moved by 0.004 mm over 4 readings")
    expect(holds).to_contain_text("6 results marked by it")
    box = page.get_by_role("button", name="Measure the set again").bounding_box()
    assert box is not None
    assert box["y"] + box["height"] <= DESK["height"]  # nothing else is to be done: at hand
    picture(page, "drifted")
    page.get_by_role("button", name="Measure the set again").click()
    expect(page.get_by_label("Reason")).to_have_value("The zero moved by 0.004 mm.")
    picture(page, "drifted-again")
    page.get_by_role("button", name="Record it").click()
    expect(page.locator("#waiting")).to_be_hidden()
    expect(page.locator("#next-title")).to_have_text("Bore gauge on its ring")
    expect(page.locator("#next-where")).to_contain_text("On its setting standard")
    expect(page.locator("#next-facts")).to_contain_text("bore on ring, 80.000 mm")
    assert bench.next(build)["step"]["id"] == "zero-before/1"
    bench.set_bore()
    bench.bores("0.000", "0.010", "0.012", "0.014", "0.016", "0.000")
    expect(page.locator("#verdict")).to_have_text("Zero has stayed")
    expect(page.locator("#next-title")).to_have_text("Piston diameter")


def test_a_marked_reading_says_why(page: Page, bench: Bench) -> None:
    bench.drifted()
    state = bench.get("/v1/bench").json()
    marked = state["last"]["zero"]["presses"][0]
    state["last"] = bench.get(f"/v1/readings/{marked}").json()
    page.route("**/v1/bench", lambda route: route.fulfill(json=state))
    page.reload()
    expect(page.locator("#verdict")).to_have_text("Undecided")
    facts = page.locator("#last-facts")
    expect(facts).to_contain_text("marked: the gauge's zero moved by 0.004 mm over its set")


def test_a_zero_check_is_announced(page: Page, bench: Bench) -> None:
    build = bench.build(BORES)
    bench.set_bore()
    bench.bores("0.000", "0.010")
    tile = page.locator("#instruments").get_by_role("button", name="bore")
    expect(tile).to_contain_text("1 reading without a closing zero check")
    expect(tile).to_contain_text("Set on ring, 80.000 mm")
    tile.focus()
    keys(page, "Enter")
    picture(page, "gauge")
    page.get_by_role("button", name="Zero check: its next press").click()
    expect(dialog(page)).to_contain_text("Lay it on ring (80.000 mm)")
    page.get_by_role("button", name="Its next press is the check").click()
    expect(tile).to_contain_text("Its next press is its zero check")
    expect(tile).to_be_focused()
    bench.bores("0.001")
    expect(page.locator("#verdict")).to_have_text("Zero has stayed")
    expect(page.locator("#placed")).to_contain_text("Zero check. bore reads 0.001 mm")
    expect(tile).not_to_contain_text("next press")
    expect(page.locator("#waiting")).to_be_hidden()
    assert bench.next(build)["step"]["id"] == "measure-bore/1/bottom"
    picture(page, "zero-stayed")


# studies and checks ------------------------------------------------------------------------------


def test_a_study_is_blind(page: Page, bench: Bench) -> None:
    """The only sample: whatever was measured last was measured of it."""
    bench.build(STUDY)
    expect(page.locator("#next-where")).to_have_text("A measures sample 1 (trial 1).")
    expect(page.locator("#next-facts")).to_contain_text("earlier readings of this sample")
    bench.press("25.003")
    expect(page.locator("#next-where")).to_have_text("B measures sample 1 (trial 1).")
    expect(page.locator("#stored")).to_have_text("Stored")
    expect(page.locator("#verdict")).to_have_text("Taken")
    expect(page.locator("#placed")).to_contain_text("A: sample 1, trial 1")
    bench.press("250.03")  # asked about; nor may its digits be seen
    expect(page.locator("#holds")).to_contain_text("The decimal point may have slipped")
    picture(page, "study")
    page.get_by_role("button", name="Void this reading").click()
    expect(dialog(page)).to_contain_text("The reading from mic")
    seen = page.locator("body").inner_text()
    assert "25.003" not in seen
    assert "250.03" not in seen
    keys(page, "Escape")
    for value in ("25.001", "25.002", "25.004"):
        bench.press(value)
    expect(page.locator("#next-title")).to_have_text("Every step is done")
    expect(page.locator("#digits")).to_have_text("25.004")  # nothing is measured after it


def test_a_tool_check_says_what_to_pull_to(page: Page, bench: Bench) -> None:
    bench.build(CHECK)
    where = page.locator("#next-where")
    expect(where).to_have_text("Pull click to 50 N·m on the reference (a preload, not evaluated).")
    expect(page.locator("#next-facts")).not_to_contain_text("Limits")
    bench.press("50.2", "tester", "N·m")
    expect(page.locator("#placed")).to_contain_text("preload 1")
    expect(where).to_have_text("Pull click to 10 N·m on the reference.")
    expect(page.locator("#next-facts")).to_contain_text("≈ 9.6154 to ≈ 10.4167 N·m")
    picture(page, "tool-check")


def test_a_reading_is_typed_in(page: Page, bench: Bench) -> None:
    bench.build(CHECK)
    page.get_by_role("button", name="Type a reading in").focus()
    keys(page, "Enter")
    page.keyboard.type("50.4")
    keys(page, "Enter")
    expect(dialog(page)).to_be_hidden()
    expect(page.locator("#digits")).to_have_text("50.4")
    expect(page.get_by_role("button", name="Type a reading in")).to_be_focused()
