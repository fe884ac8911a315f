"""Instruments and control charts in a real browser: in both themes, on a desk and a phone."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.seen import DESK, PHONE, barriers, picture
from tests.many_builds import BENCH, TIGHT, Shop
from tests.served import served

PAGES = (
    "/instruments",
    "/instruments/bore-1",
    "/charts",
    "/charts/many-pump/barrel-bore",
    "/charts/many-pump/turns",
)

ON_A_PHONE = ("/instruments", "/charts/many-pump/turns")
"""Looked at for barriers there, the others on the desk: it takes long."""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    folder: Path = tmp_path_factory.mktemp("many")
    (folder / "bench.toml").write_text(BENCH, "utf-8")
    with served(folder) as up, httpx.Client(base_url=up["url"], timeout=30) as http:
        made = Shop(http, folder)
        made.build_many(21)
        yield made


def opened(browser: Browser, shop: Shop, trouble: list[str], **how: Any) -> Page:
    page = browser.new_context(base_url=str(shop.http.base_url), **how).new_page()
    page.on("pageerror", lambda error: trouble.append(str(error)))
    page.on("console", lambda said: trouble.append(said.text) if said.type == "error" else None)
    return page


@pytest.mark.parametrize(
    ("scheme", "screen", "language"), [("light", DESK, "en"), ("dark", PHONE, "de")]
)
def test_every_page_on_a_desk_and_on_a_phone(
    browser: Browser, shop: Shop, scheme: Any, screen: Any, language: str
) -> None:
    trouble: list[str] = []
    page = opened(browser, shop, trouble, viewport=screen, color_scheme=scheme)
    for path in PAGES:
        page.goto(f"{path}?language={language}")
        expect(page.locator("html")).to_have_attribute("lang", language)
        picture(page, f"{path.strip('/').replace('/', '-')}-{scheme}")
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= screen["width"], path
        if (screen == PHONE) == (path in ON_A_PHONE):
            assert barriers(page) == [], path
    page.context.close()
    assert trouble == []


def test_from_the_list_to_the_reading_that_stands_out_by_keyboard(
    browser: Browser, shop: Shop
) -> None:
    trouble: list[str] = []
    page = opened(browser, shop, trouble, viewport=DESK)
    page.goto("/charts?language=en")
    page.get_by_role("link", name="Turning torque").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Turning torque: control chart")
    row = page.get_by_role("row").filter(has_text=f"Pump {TIGHT + 1} ")
    expect(row).to_contain_text("beyond a control limit")
    # two charts, each with a mark for every build, and the one that stands out says why
    charts = page.locator(".drawn svg")
    expect(charts).to_have_count(2)
    expect(charts.first.locator("a")).to_have_count(21)
    assert shop.builds[TIGHT] in str(charts.first.locator("a").nth(TIGHT).get_attribute("href"))
    region = page.get_by_role("region", name="Builds on this chart, newest first")
    region.focus()
    expect(region).to_be_focused()
    href = row.get_by_role("link", name=shop.torques[TIGHT]).get_attribute("href")
    assert httpx.get(f"{shop.http.base_url}/v1{href}").json()["value"] == shop.torques[TIGHT]
    page.context.close()
    assert trouble == []


def test_the_drift_of_a_gauge_is_drawn_check_by_check(browser: Browser, shop: Shop) -> None:
    trouble: list[str] = []
    page = opened(browser, shop, trouble, viewport=DESK)
    page.goto("/instruments?language=en")
    page.get_by_role("link", name="bore-1").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Life of bore-1")
    expect(page.locator(".drawn svg a")).to_have_count(42)
    table = page.get_by_role("region", name="Zero checks")
    expect(table).to_be_hidden()  # many: the picture first
    page.get_by_text("42 zero checks").click()
    expect(table.get_by_role("row").filter(has_text="Beyond U")).to_have_count(1)
    page.context.close()
    assert trouble == []
