"""Pictures of pulls, titles, and sets to be measured again, on the page; all of it invented."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.engine import BENCH, BORES, Bench
from tests.browser.seen import picture
from tests.served import served

ANNOUNCED = BORES.replace('[[operation]]\nid = "zero-before"\nzero = "ring-zero"\n', "")
ANNOUNCED = ANNOUNCED.replace('after = ["zero-before"]\n', "")
ANNOUNCED = ANNOUNCED.replace(
    '[[operation]]\nid = "zero-after"\nzero = "ring-zero"\nafter = ["measure-bore"]\n', ""
).replace('after = ["zero-after"]\n', 'after = ["measure-bore"]\n')
ANNOUNCED = ANNOUNCED[ANNOUNCED.index("[[characteristic]]") :]
"""The same bores, with no step for a zero check."""


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    (tmp_path / "bench.toml").write_text(BENCH, "utf-8")
    with served(tmp_path) as up, Bench(base_url=up["url"]) as http:
        yield http


def test_a_pull_has_a_link_to_its_picture(page: Page, bench: Bench) -> None:
    bench.press("25.000")
    expect(page.locator("#digits")).to_have_text("25.000")
    expect(page.locator("#trace")).to_be_hidden()
    rise = [f"{at / 2:.1f}" for at in range(100)]
    torque = ["0.0"] * 40 + rise + ["30.0"] * 8 + ["0.0"] * 40
    bench.said("/v1/pulls", instrument="tester", unit="N·m", torque=torque, interval_us=5000)
    link = page.get_by_role("link", name="Picture of the pull")
    expect(link).to_be_visible()
    picture(page, "pull")
    with page.context.expect_page() as opened:
        link.click()
    expect(opened.value.locator("svg")).to_be_visible()
    expect(opened.value.locator("svg")).to_contain_text("Torque of tester, reading")
    expect(opened.value.locator("svg")).to_contain_text("Simulated")
    picture(opened.value, "pull-opened")


def test_the_last_press_says_the_title(page: Page, bench: Bench) -> None:
    bench.build(ANNOUNCED)
    bench.set_bore()
    bench.bores("0.010")
    expect(page.locator("#placed")).to_have_text("Cylinder bore · cylinder 1 · top")


def test_the_set_of_an_announced_zero_check_is_measured_again(page: Page, bench: Bench) -> None:
    build = bench.build(ANNOUNCED)
    bench.set_bore()
    bench.said("/v1/zeros", instrument="bore")
    bench.bores("0.000", "0.010", "0.012", "0.014", "0.016")
    bench.said("/v1/zeros", instrument="bore")
    last = bench.bores("0.004")
    assert last["zero"]["steady"] is False, last
    announced = page.locator("#holds li").filter(has_text="Announced zero check")
    expect(announced).to_contain_text("its zero moved by 0.004 mm over 4 readings")
    expect(page.locator("#holds")).to_contain_text("Its gauge's zero had moved")
    picture(page, "announced")
    announced.get_by_role("button", name="Measure the set again").click()
    page.get_by_role("button", name="Record it").click()
    expect(page.locator("#waiting")).to_be_hidden()
    assert bench.next(build)["step"]["id"] == "measure-bore/1/top"
