"""A real browser on a real service. A test file may have a bench of its own."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

from tests.browser.seen import DESK
from tests.served import served
from tests.support import find_chromium

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    path = find_chromium()
    with sync_playwright() as playwright:
        # A new, empty profile each time; it is removed afterwards.
        made = playwright.chromium.launch(executable_path=path, headless=True, args=FLAGS)
        yield made
        made.close()


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[httpx.Client]:
    with served(tmp_path) as up, httpx.Client(base_url=up["url"], timeout=30) as http:
        yield http


@pytest.fixture
def page(browser: Browser, bench: httpx.Client) -> Iterator[Page]:
    context = browser.new_context(viewport=DESK)
    made = context.new_page()
    trouble: list[str] = []
    made.on("pageerror", lambda error: trouble.append(str(error)))
    made.on("request", lambda request: trouble.extend(_elsewhere(request.url, bench)))
    made.goto(str(bench.base_url))
    expect(made.locator("#line")).to_have_text("Live")
    yield made
    context.close()
    assert trouble == []


def _elsewhere(url: str, bench: httpx.Client) -> list[str]:
    return [] if url.startswith((str(bench.base_url), "data:")) else [f"asked elsewhere: {url}"]
