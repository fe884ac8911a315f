"""The pages of builds in a real browser: nobody is shut out, nothing sticks out, nothing breaks."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import Browser, Page, ViewportSize, expect

from tests.browser.seen import DESK, PHONE, barriers, picture
from tests.contract import trade
from tests.served import served

TABLET: ViewportSize = {"width": 1024, "height": 768}
PULL = {"instrument": "adapter-1", "unit": "N·m", "torque": trade.TORQUE, "interval_us": 10_000}


def post(http: httpx.Client, path: str, body: object) -> dict[str, str]:
    answer = http.post(f"/v1/{path}", json=body)
    assert answer.status_code in (200, 201), answer.text
    found: dict[str, str] = answer.json()
    return found


def typed(http: httpx.Client, value: str, instrument: str, unit: str = "mm") -> None:
    post(http, "readings", {"instrument": instrument, "value": value, "unit": unit})


def built(http: httpx.Client, spec: str, title: str, *diameters: str) -> str:
    """A build that is measured as far as its pistons."""
    build = post(http, "builds", {"spec": spec, "title": title})["id"]
    post(http, "settings", trade.RING)
    typed(http, "20.0", "thermometer-1", "°C")
    for digits in ("0.000", *trade.BORES, "0.000"):
        typed(http, digits, "bore-1")
    for digits in diameters:
        typed(http, digits, "mic-1")
    return build


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[httpx.Client, str, str]]:
    """A served bench with a build that is tightened, and one that is held."""
    folder: Path = tmp_path_factory.mktemp("shop")
    (folder / "bench.toml").write_text(trade.BENCH, "utf-8")
    with served(folder) as up, httpx.Client(base_url=up["url"], timeout=30) as http:
        spec = http.post("/v1/specs", content=trade.SPEC.encode()).json()["id"]
        whole = built(http, spec, "Whole twin", "79.972", "79.957")
        for _ in range(2):
            gap = {"instrument": "feeler-1", "unit": "mm", "bracket": trade.GAP}
            post(http, "readings", gap)
        post(http, "pulls", PULL)
        typed(http, "50.2", "adapter-1", "N·m")
        turned = {"lower": "4.5", "upper": "5.0"}
        post(http, "readings", {"instrument": "click-1", "unit": "N·m", "bracket": turned})
        yield http, whole, built(http, spec, "Held twin", "79.990")


@pytest.fixture
def open_page(browser: Browser) -> Iterator[Page]:
    """A page that must not complain: a style, script or picture that the policy stops does."""
    context = browser.new_context(viewport=DESK, locale="en")
    made = context.new_page()
    trouble: list[str] = []
    made.on("pageerror", lambda error: trouble.append(str(error)))
    made.on("console", lambda said: trouble.append(said.text) if said.type == "error" else None)
    yield made
    context.close()
    assert trouble == []


def sticks_out(page: Page) -> dict[str, int]:
    """By screen: how many pixels of the page lie beside it."""
    found = {}
    for name, size in (("desk", DESK), ("tablet", TABLET), ("phone", PHONE)):
        page.set_viewport_size(size)
        found[name] = page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
    page.set_viewport_size(DESK)
    return {name: over for name, over in found.items() if over}


def test_every_page_can_be_read_by_everyone_on_every_screen(
    open_page: Page, shop: tuple[httpx.Client, str, str]
) -> None:
    http, whole, held = shop
    page = open_page
    paths = {
        "builds": "/builds",
        "build": f"/builds/{whole}",
        "build-compared": f"/builds/{whole}/compare/{held}",
        "build-choose": f"/builds/{held}/compare?language=de",
    }
    for name, path in paths.items():
        page.goto(f"{http.base_url}{path}")
        picture(page, name)
        assert barriers(page) == [], name
        assert sticks_out(page) == {}, name
    page.set_viewport_size(PHONE)
    page.goto(f"{http.base_url}/builds/{whole}#derived")  # folded, but for what was asked for
    folds = page.locator("details.fold")
    expect(page.locator("details.fold[open]")).to_have_count(1)
    assert folds.count() > 5
    assert barriers(page) == []
    page.locator("nav.within a", has_text="Maße").first.click()
    expect(page.locator("#sizes details.fold")).to_have_attribute("open", "")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    expect(page.locator("details.fold:not([open])")).to_have_count(0)  # paper has it all
    page.set_viewport_size(DESK)
    page.emulate_media(color_scheme="dark")
    page.goto(f"{http.base_url}/builds/{held}")  # in German: the browser remembers
    expect(page.locator("html")).to_have_attribute("lang", "de")
    picture(page, "build-dark")
    assert barriers(page) == []


def test_a_build_is_read_by_the_keyboard_down_to_its_readings(
    open_page: Page, shop: tuple[httpx.Client, str, str]
) -> None:
    http, whole, held = shop
    page = open_page
    page.goto(f"{http.base_url}/builds")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to the content")).to_be_focused()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Held twin", exact=True)).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Held twin", level=1)).to_be_visible()
    expect(page.locator("#holds")).to_contain_text("Piston diameter")

    page.goto(f"{http.base_url}/builds/{whole}")
    trace = page.locator("#fasteners img")
    trace.scroll_into_view_if_needed()
    expect(trace).to_have_js_property("complete", True)
    assert trace.evaluate("one => one.naturalWidth") > 0
    details = page.locator("#derived details.points").first
    details.locator("summary").focus()
    page.keyboard.press("Enter")
    expect(details).to_have_attribute("open", "")
    size = page.locator("#sizes td a").first
    value = size.inner_text()
    size.focus()
    with page.expect_navigation() as led:
        page.keyboard.press("Enter")
    assert led.value.status == 200
    assert value in page.locator("main").inner_text()

    page.goto(f"{http.base_url}/builds/{held}/compare")
    page.get_by_role("button", name="Compare").press("Enter")
    expect(page).to_have_url(f"{http.base_url}/builds/{held}/compare/{whole}")
    expect(page.locator("#differ")).to_contain_text("The verdict differs in")
