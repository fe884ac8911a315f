"""Pulls while they last and their pictures, titles, and sets to be measured again, on the page; all
of it invented."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from simulators.serial_side import Cable
from simulators.torque_stream import brisk, pulled, resting
from simulators.torque_streaming import OnCable
from tests.browser.engine import BENCH, BORES, Bench
from tests.browser.seen import DESK, picture
from tests.served import served
from tests.stream import RATES, SPEC, TEXT, stream

ANNOUNCED = BORES.replace('[[operation]]\nid = "zero-before"\nzero = "ring-zero"\n', "")
ANNOUNCED = ANNOUNCED.replace('after = ["zero-before"]\n', "")
ANNOUNCED = ANNOUNCED.replace(
    '[[operation]]\nid = "zero-after"\nzero = "ring-zero"\nafter = ["measure-bore"]\n', ""
).replace('after = ["zero-after"]\n', 'after = ["measure-bore"]\n')
ANNOUNCED = ANNOUNCED[ANNOUNCED.index("[[characteristic]]") :]
"""The same bores, with no step for a zero check."""


STREAMING = """
title = "Bench for tests"

[[port]]
id = "cable"
device = "{device}"

[[instrument]]
id = "adapter-1"
kind = "torque-adapter"
port = "cable"
profile = "torque-stream-text"
unit = "N·m"
resolution = "0.01"
simulated = true
"""
SEEN = """() => {
    window.words = new Set();
    const pull = document.getElementById("pull");
    new MutationObserver(() => {
        const stored = document.getElementById("stored").checkVisibility();
        const word = document.getElementById("pull-word").textContent;
        if (!pull.hidden) words.add(`${stored} ${word}`);
    }).observe(pull, { subtree: true, childList: true, characterData: true, attributes: true });
}"""


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    (tmp_path / "bench.toml").write_text(BENCH, "utf-8")
    with served(tmp_path) as up, Bench(base_url=up["url"]) as http:
        yield http


def test_a_pull_is_seen_while_it_lasts_and_is_none_until_stored(
    browser: Browser, tmp_path: Path
) -> None:
    """From a simulated adapter's bytes at the end of a cable to the picture on the page."""
    rate = RATES[TEXT]
    course = resting(0.3, rate) + pulled(brisk("click", 25.0), rate, "click", left=False)
    course += resting(0.7, rate)
    cable = Cable(tmp_path / "ports" / "cable")
    (tmp_path / "bench.toml").write_text(STREAMING.format(device=cable.path), "utf-8")
    context = browser.new_context(viewport=DESK)
    page = context.new_page()
    try:
        with served(tmp_path) as up, Bench(base_url=up["url"], timeout=30) as http:
            spec = http.post("/v1/specs", content=SPEC.encode()).raise_for_status().json()["id"]
            http.said("/v1/builds", spec=spec, title="Pump on stand 1")
            page.goto(str(up["url"]))
            expect(page.locator("#line")).to_have_text("Live")
            expect(page.locator("#alive-well")).to_have_text("1 of 1 instruments is ready")
            page.evaluate(SEEN)
            with OnCable(cable, stream(TEXT, course)):
                expect(page.locator("#pull")).to_be_visible(timeout=20_000)
                expect(page.locator("#stored")).to_have_text("Stored", timeout=20_000)
            expect(page.locator("#pull")).to_be_hidden()
            expect(page.locator("#verdict")).to_have_text("Conforming")
            digits = page.locator("#digits").text_content()
            seen = page.evaluate("[...words]")
            assert "false Being pulled. Not stored yet." in seen
            click = f"false Click at {digits} N·m, it seems. "
            assert any(one.startswith(click) for one in seen), seen
            assert all(one.startswith("false") for one in seen), "nothing else says stored"
            context.close()
    finally:
        cable.close()


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
