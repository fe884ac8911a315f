"""The build sheet in a browser: on a screen, on a phone, printed, and read aloud."""

from __future__ import annotations

import io
from pathlib import Path

import httpx
import pypdf
from playwright.sync_api import Browser

from tests.browser.seen import DESK, PHONE, barriers, picture
from tests.contract import trade
from tests.served import served


def half_built(http: httpx.Client) -> str:
    """An invented twin with its bores and pistons measured, and one pull; gives the build's id."""
    spec = http.post("/v1/specs", content=trade.SPEC.encode()).raise_for_status().json()
    body = {"spec": spec["id"], "title": "Twin on stand 2", "operator": "first shift"}
    build = http.post("/v1/builds", json=body).raise_for_status().json()["id"]
    http.post("/v1/settings", json=trade.RING).raise_for_status()
    taken = [("thermometer-1", "20.0", "°C"), ("bore-1", "0.000", "mm")]
    taken += [("bore-1", value, "mm") for value in (*trade.BORES, "0.001")]
    taken += [("mic-1", value, "mm") for value in ("79.972", "79.957")]
    for instrument, value, unit in taken:
        press = {"instrument": instrument, "value": value, "unit": unit}
        http.post("/v1/readings", json=press).raise_for_status()
    return str(build)


def test_the_sheet_is_read_printed_and_kept_without_barriers(
    browser: Browser, tmp_path: Path
) -> None:
    (tmp_path / "bench.toml").write_text(trade.BENCH, "utf-8")
    with served(tmp_path) as up, httpx.Client(base_url=up["url"], timeout=30) as http:
        build = half_built(http)
        context = browser.new_context(viewport=DESK, color_scheme="dark")
        page = context.new_page()
        trouble: list[str] = []
        page.on("console", lambda said: trouble.append(said.text))
        page.on("request", lambda asked: trouble.extend(_other(asked.url, build)))
        page.goto(f"{up['url']}/v1/builds/{build}/sheet?language=de")
        assert page.locator("html").get_attribute("lang") == "de"
        assert page.locator("figure svg").count() > 1
        assert barriers(page) == []
        picture(page, "sheet-dark")
        page.emulate_media(color_scheme="light")
        page.set_viewport_size(PHONE)
        assert barriers(page) == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        picture(page, "sheet-phone")
        # Printed from the browser, each page says what it is not.
        printed = pypdf.PdfReader(io.BytesIO(page.pdf(format="A4")))
        assert len(printed.pages) > 1
        for one in printed.pages:
            text = one.extract_text()
            assert "NICHT FERTIG" in text
            assert "SIMULIERT" in text
        page.get_by_role("link", name="English").click()
        assert page.locator("html").get_attribute("lang") == "en"
        assert trouble == []
        context.close()


def _other(url: str, build: str) -> list[str]:
    """A sheet loads nothing but itself."""
    return [] if f"/builds/{build}/sheet" in url or url == "data:," else [url]
