"""What is decided and said on the bench page: fits, holds, gauges, findings; for everybody."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from tests.browser.engine import BENCH, BOLTS, BORES, GAP, Bench
from tests.browser.hands import dialog, keys
from tests.browser.seen import DESK, PHONE, barriers, picture
from tests.served import served


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    (tmp_path / "bench.toml").write_text(BENCH, "utf-8")
    with served(tmp_path) as up, Bench(base_url=up["url"]) as http:
        yield http


# instruments -------------------------------------------------------------------------------------


def test_a_standard_and_a_temperature_are_entered(page: Page, bench: Bench) -> None:
    tile = page.locator("#instruments").get_by_role("button", name="bore")
    expect(tile).to_contain_text("Not set on a standard yet")
    tile.click()
    page.get_by_role("button", name="It was set on a standard").click()
    page.get_by_label("Setting standard").fill("ring 80")
    page.get_by_label("Its size").fill("80.002")
    dialog(page).get_by_text("mic", exact=True).click()
    picture(page, "setting")
    page.get_by_role("button", name="Record it").click()
    expect(tile).to_contain_text("Set on ring 80, 80.002 mm")
    setting = next(
        one for one in bench.get("/v1/instruments").json()["instruments"] if one["id"] == "bore"
    )["setting"]
    assert setting["expanded_uncertainty"] == "0.0012"  # the micrometer's certificate
    tile.click()
    page.get_by_role("button", name="How warm it and its standard are").click()
    page.get_by_label("Temperature").fill("23.5")
    page.get_by_role("button", name="Record it").click()
    expect(tile).to_contain_text("23.5 °C")


def test_an_extension_is_put_on_and_taken_off(page: Page, bench: Bench) -> None:
    bench.build(BOLTS)
    tile = page.locator("#instruments").get_by_role("button", name="click")
    tile.click()
    page.get_by_role("button", name="An extension is on it").click()
    page.get_by_label("Length of the tool").fill("400")
    page.get_by_label("Length of the extension").fill("50")
    picture(page, "extension")
    page.get_by_role("button", name="Record it").click()
    expect(tile).to_contain_text("Extension of 50 mm on")
    expect(page.locator("#next-facts")).to_contain_text("click to 35.56 N·m, its extension on")
    picture(page, "tool-setting")
    tile.click()
    page.get_by_role("button", name="The extension is off again").click()
    page.get_by_role("button", name="It is off").click()
    expect(tile).not_to_contain_text("Extension")
    expect(page.locator("#next-facts")).not_to_contain_text("35.56")


# fits, holds -------------------------------------------------------------------------------------


def test_a_proposed_fit_is_accepted(page: Page, bench: Bench) -> None:
    build = bench.misfits()
    holds = page.locator("#holds li")
    expect(holds).to_have_count(2)
    picture(page, "misfits")
    holds.first.get_by_role("button", name="Propose a fit").click()
    expect(dialog(page)).to_contain_text("0.040 to 0.060 mm, best at 0.05 mm")
    expect(dialog(page).locator("tbody tr, table tr")).to_have_count(3)
    expect(dialog(page)).to_contain_text("piston-2 (moves)")
    picture(page, "fit")
    page.get_by_role("button", name="Put the pieces so").click()
    expect(page.locator("#waiting")).to_be_hidden()
    pieces = bench.get(f"/v1/builds/{build}").json()["pieces"]
    assert {"part": "piston", "number": 1, "piece": "piston-2"} in pieces


@pytest.mark.parametrize(
    ("way", "fitting", "kind"),
    [
        ("Concede: accept it as it is", "Agreed with the customer.", "concession"),
        ("Rework piston 1, then measure it again", "It is being reworked.", "rework"),
        ("Scrap cylinder 1: another piece takes its place", "It is damaged.", "scrap"),
    ],
)
def test_a_hold_is_settled(page: Page, bench: Bench, way: str, fitting: str, kind: str) -> None:
    bench.misfits()
    first = page.locator("#holds li").first
    first.get_by_role("button", name="Settle").click()
    page.get_by_role("button", name="Record it").click()
    expect(page.locator("#ask-problem")).to_have_text("Choose one.")
    # Each choice has reasons of its own, and none is at hand before one is made.
    expect(dialog(page).locator(".ready")).to_have_count(0)
    dialog(page).get_by_text(way).click()
    expect(dialog(page).locator(".ready")).to_have_count(1)
    expect(dialog(page).locator(".ready")).to_contain_text(fitting)
    expect(page.locator("#ask-problem")).to_be_empty()
    picture(page, "settle")
    page.get_by_role("button", name="Record it").click()
    expect(page.locator("#ask-problem")).to_contain_text("Reason")
    page.get_by_label("Reason").fill("Seen by two.")
    page.get_by_role("button", name="Record it").click()
    expect(dialog(page)).to_be_hidden()
    expect(page.locator("#holds li")).to_have_count(1)
    entry = bench.get("/v1/entries", params={"limit": 1000}).json()["entries"][-1]
    assert (entry["kind"], entry["body"]["reason"]) == (kind, "Seen by two.")


def test_a_wrong_reading_that_holds_is_measured_again(page: Page, bench: Bench) -> None:
    build = bench.build(BORES)
    bench.set_bore()
    bench.bores("0.000", "0.050")
    page.locator("#holds").get_by_role("button", name="Settle").click()
    dialog(page).get_by_text("Measure again").click()
    page.get_by_label("Reason").fill("Not rocked.")
    page.get_by_role("button", name="Record it").click()
    expect(page.locator("#waiting")).to_be_hidden()
    assert bench.next(build)["step"]["id"] == "measure-bore/1/top"


# worth a look ------------------------------------------------------------------------------------


def test_what_is_worth_a_look_is_listed_and_holds_nothing(page: Page, bench: Bench) -> None:
    bench.build(BORES)
    expect(page.locator("#looked")).to_have_text("Not looked yet.")
    page.get_by_role("button", name="Look now").click()
    expect(page.locator("#looked")).to_contain_text("Nothing stands out; looked at 0 of")
    found = {
        "findings": [
            {"code": "x", "subject": "bores", "detail": "One bore is unlike.", "numbers": {}}
        ],
        "not_shown": [{"mistake": "A", "why": "B.", "practice": "C."}],
    }
    page.route("**/findings", lambda route: route.fulfill(json=found))
    bench.set_bore()
    bench.bores("0.000")  # completes an operation: the page looks by itself
    expect(page.locator("#findings li")).to_have_text("One bore is unlike.")
    expect(page.locator("#looked")).to_contain_text("looked at 1 of 8 steps")
    page.get_by_text("What no data can show").click()
    expect(page.locator("#unseen-list li")).to_have_text("A. B. C.")
    expect(page.locator("#next-title")).to_have_text("Cylinder bore")
    picture(page, "worth")


def test_a_state_not_known_in_time_is_asked_for_again(page: Page, bench: Bench) -> None:
    bench.build(GAP)
    state = bench.get("/v1/bench").json()
    asked = 0

    def late(route: Route) -> None:
        nonlocal asked
        asked += 1
        unknown = {**state, "known": False, "build": None, "next": None}
        route.fulfill(json=unknown if asked < 3 else state)

    page.route("**/v1/bench", late)
    page.reload()
    expect(page.locator("#next-title")).to_have_text("No build is open")
    expect(page.locator("#next-title")).to_have_text("Top ring end gap")


# for everybody -----------------------------------------------------------------------------------


def test_nothing_is_in_the_way_of_anybody(page: Page, bench: Bench) -> None:
    bench.drifted()
    expect(page.locator("#holds li")).to_have_count(1)
    assert barriers(page) == []
    page.get_by_role("button", name="Settle otherwise").click()
    assert barriers(page) == []
    keys(page, "Escape")
    bench.build(GAP)
    page.get_by_role("button", name="Enter the two values").click()
    assert barriers(page) == []
    keys(page, "Escape")
    bench.misfits()
    page.get_by_role("button", name="Propose a fit").first.click()
    expect(dialog(page).locator("table")).to_be_visible()
    assert barriers(page) == []
    keys(page, "Escape")
    page.locator("#instruments").get_by_role("button", name="bore").click()
    page.get_by_role("button", name="It was set on a standard").click()
    assert barriers(page) == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_on_a_phone(browser: Browser, bench: Bench, scheme: str) -> None:
    bench.drifted()
    context = browser.new_context(
        viewport=PHONE, color_scheme="dark" if scheme == "dark" else "light"
    )
    page = context.new_page()
    page.goto(str(bench.base_url))
    moved = page.locator("#holds li").filter(has_text="Zero has moved")
    expect(moved).to_contain_text("its zero moved by 0.004 mm")
    wide = "document.documentElement.scrollWidth"
    assert page.evaluate(wide) <= PHONE["width"]
    picture(page, f"phone-drifted-{scheme}")
    assert barriers(page) == []
    bench.build(GAP)
    page.get_by_role("button", name="Enter the two values").click()
    assert page.locator("#ask").evaluate("node => node.scrollWidth <= node.clientWidth")
    picture(page, f"phone-leaf-{scheme}")
    keys(page, "Escape")
    bench.misfits()
    page.get_by_role("button", name="Propose a fit").first.click()
    expect(dialog(page).locator("table")).to_be_visible()
    picture(page, f"phone-fit-{scheme}")
    assert barriers(page) == []
    context.close()


def test_targets_in_every_dialog_are_for_oily_fingers(page: Page, bench: Bench) -> None:
    bench.build(GAP)
    page.get_by_role("button", name="Enter the two values").click()
    for target in page.locator("#ask button:visible, #ask .tile, #ask .stacker").all():
        box = target.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 73, target.inner_text()
    box = dialog(page).bounding_box()
    assert box is not None
    assert box["height"] <= DESK["height"]
