"""Every page that the pages lead to: no link is dead, nobody is kept out, every word is translated.

The service has the whole demo in its store. A page's kind is its address without what it is of.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from html.parser import HTMLParser
from urllib.parse import urljoin, urlsplit

import httpx
import pytest
from playwright.sync_api import Browser, Page

from tests.browser.seen import DESK, PHONE, barriers, picture
from tests.built import Built
from tests.served import served

pytestmark = pytest.mark.timeout(240)

A_KIND = 3
"""Of each kind of page, so many are asked for and read for further links."""
LARGE = ("/builds/#", "/v1/builds/#/sheet")
"""These take seconds to be looked through: once is enough here, tests of their own do the rest."""
OF = re.compile(r"(?<=/)(?:b?[0-9]+|[0-9a-f]{64})(?=/|$)|(?<=/instruments/)[^/]+$")


class Links(HTMLParser):
    """What a page leads to or is made of, and the ids in it."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.headings = 0
        self.language = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag == "html":
            self.language = given.get("lang") or ""
        if tag == "h1":
            self.headings += 1
        for name in ("href", "src"):
            value = given.get(name)
            if value and tag in ("a", "link", "script", "img"):
                self.found.append(value)


def kind_of(path: str) -> str:
    return OF.sub("#", path)


class Walk:
    """What was found by following every link from the bench page."""

    def __init__(self, http: httpx.Client) -> None:
        self.dead: list[str] = []
        self.pages: dict[str, list[str]] = {}
        seen, waiting = {"/"}, [("/", "the beginning")]
        led = Counter(["/"])
        while waiting:
            path, source = waiting.pop(0)
            of = self.pages.setdefault(kind_of(urlsplit(path).path), [])
            answer = http.get(path, headers={"Accept": "text/html"})
            if answer.status_code != 200:
                self.dead.append(f"{path} (from {source}): {answer.status_code}")
                continue
            if not answer.headers["content-type"].startswith("text/html"):
                continue
            of.append(path)
            for link in Links(answer.text).found:
                if link.startswith("data:"):
                    continue
                whole = urljoin(str(http.base_url.join(path)), link)
                if not whole.startswith(str(http.base_url)):
                    self.dead.append(f"{path} leads elsewhere: {link}")
                    continue
                parts = urlsplit(whole)
                target = parts.path + (f"?{parts.query}" if parts.query else "")
                kind = kind_of(parts.path)
                if target not in seen and led[kind] < A_KIND:
                    seen.add(target)
                    led[kind] += 1
                    waiting.append((target, path))
        # Links to other languages were followed, too, and the service asked to remember them.
        http.cookies.clear()
        self.pages = {kind: paths for kind, paths in self.pages.items() if paths}


@pytest.fixture(scope="module")
def bench(built: Built, tmp_path_factory: pytest.TempPathFactory) -> Iterator[httpx.Client]:
    folder = built.copied(tmp_path_factory.mktemp("pages") / "demo")
    with (
        served(folder, complains=True) as up,
        # Nothing stays open from one test to the next.
        httpx.Client(
            base_url=up["url"], timeout=60, limits=httpx.Limits(max_keepalive_connections=0)
        ) as http,
    ):
        yield http


@pytest.fixture(scope="module")
def walk(bench: httpx.Client) -> Walk:
    return Walk(bench)


def test_no_link_is_dead_and_every_kind_of_page_is_led_to(walk: Walk) -> None:
    assert walk.dead == []
    wanted = {
        "/", "/builds", "/builds/#", "/v1/builds/#/sheet", "/history", "/readings/#", "/entries/#",
        "/instruments", "/instruments/#", "/charts", "/specs", "/specs/#",
    }  # fmt: skip
    assert wanted <= set(walk.pages)


def test_every_page_has_one_heading_and_says_its_language(walk: Walk, bench: httpx.Client) -> None:
    for kind, paths in walk.pages.items():
        for language in ("en", "de"):
            answer = bench.get(paths[0], headers={"Accept-Language": language})
            page = Links(answer.text)
            assert page.language.startswith(language), kind
            # The bench page has two things to look at, side by side.
            assert page.headings == 1 or kind == "/", kind


@pytest.mark.parametrize(
    ("language", "scheme", "screen"), [("en", "light", DESK), ("de", "dark", PHONE)]
)
def test_nothing_is_in_the_way_of_anybody(
    walk: Walk, bench: httpx.Client, browser: Browser, language: str, scheme: str, screen: object
) -> None:
    context = browser.new_context(
        viewport=screen,  # type: ignore[arg-type]  # one of two sizes
        color_scheme=scheme,  # type: ignore[arg-type]  # one of two schemes
        locale=language,
    )
    trouble: list[str] = []
    page = context.new_page()
    page.on("pageerror", lambda error: trouble.append(f"{page.url}: {error}"))
    page.on("console", lambda said: trouble.extend([said.text] if said.type == "error" else []))
    page.on("response", lambda one: trouble.extend([one.url] if one.status >= 400 else []))
    for kind, paths in walk.pages.items():
        page.goto(str(bench.base_url.join(paths[0])))
        name = kind.strip("/").replace("/", "-").replace("#", "one") or "bench"
        picture(page, f"{name}-{language}-{scheme}")
        if screen is DESK or kind not in LARGE:
            trouble += [f"{kind}: {one}" for one in barriers(page)]
        trouble += [f"{kind}: {one}" for one in _beside(page)]
    context.close()
    assert trouble == []


def _beside(page: Page) -> list[str]:
    """What makes the page itself scroll sideways."""
    script = """() => document.documentElement.scrollWidth > innerWidth
      ? [...document.querySelectorAll("body *")]
          .filter((one) => one.getBoundingClientRect().right > innerWidth + 1
            && !one.closest(".scroll"))
          .slice(0, 3).map((one) => one.outerHTML.slice(0, 120))
      : []"""
    return [f"wider than the screen: {one}" for one in page.evaluate(script)]


def test_pages_are_walked_by_keyboard(walk: Walk, bench: httpx.Client, browser: Browser) -> None:
    page = browser.new_page(viewport=DESK)
    for kind, paths in walk.pages.items():
        if kind in ("/", "/v1/builds/#/sheet"):
            continue
        page.goto(str(bench.base_url.join(paths[0])))
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.className") == "skip", kind
        page.keyboard.press("Enter")
        page.keyboard.press("Tab")
        inside = "document.getElementById('content').contains(document.activeElement)"
        links = "document.querySelectorAll('#content :is(a, button, input, summary)').length"
        assert page.evaluate(inside) or page.evaluate(links) == 0, kind
        outline = "getComputedStyle(document.activeElement).outlineWidth"
        assert page.evaluate(outline) != "0px", kind
    page.close()


def test_a_mistyped_address_says_what_is_wrong(bench: httpx.Client) -> None:
    for path in ("/builds/b999999", "/readings/999999", "/instruments/none", "/specs/none"):
        answer = bench.get(path, headers={"Accept": "text/html"})
        assert answer.status_code == 404, path
        assert path.rpartition("/")[2] in answer.text
