"""What a person waits for: the bench page's first paint, and a stored press on the screen.

A real browser on the running service. Beside the first paint stands that of a page with one word on
it, from the standard library's server; beside the drawing of a press the time that the same browser
takes to draw a changed word. Stored is when the synchronous commit has returned, told by the
program itself (see ``stamp``); drawn is after the frame with the new digits was handed to the
compositor.
"""

from __future__ import annotations

import functools
import os
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import NamedTuple

from playwright.sync_api import Browser, Page, sync_playwright

from tests.benchmarks.measure import Spread, spread
from tests.benchmarks.peer import Peer
from tests.benchmarks.wire import line
from tests.support import find_chromium

FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"]
WARM_UP = 3
PAUSE_SECONDS = 0.03
WORD = "<!doctype html><title>one word</title><p id=digits>word"
PAINTED = """() => new Promise((found) => {
  const look = () => {
    const paint = performance.getEntriesByName("first-contentful-paint")[0];
    if (paint) found(paint.startTime / 1000); else requestAnimationFrame(look);
  };
  look();
})"""
WATCH = """() => {
  window.drawn = [];
  const after = () => requestAnimationFrame(() => {
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = () => window.drawn.push(performance.now() / 1000);
    port2.postMessage(null);
  });
  new MutationObserver(after).observe(document.getElementById("digits"),
    { childList: true, characterData: true, subtree: true });
}"""
CHANGE = """() => {
  const began = performance.now() / 1000;
  document.getElementById("digits").textContent = String(began);
  return began;
}"""
TAKE = "() => window.drawn.splice(0)"


class Screen(NamedTuple):
    """Seconds. ``word`` is of the page with one word."""

    paint: Spread
    word_paint: Spread
    drawn: Spread
    word_drawn: Spread


def measured(peer: Peer, folder: Path, presses: int, loads: int) -> Screen:
    """One run; ``peer`` is a service that is not started yet, with a step for every press."""
    peer.stamped = True
    with ExitStack() as stack:
        stack.enter_context(peer)
        word = stack.enter_context(_one_word(folder))
        playwright = stack.enter_context(sync_playwright())
        browser = playwright.chromium.launch(
            executable_path=find_chromium(), headless=True, args=FLAGS
        )
        stack.callback(browser.close)
        ours = f"http://127.0.0.1:{peer.port}/"
        paints: dict[str, list[float]] = {ours: [], word: []}
        for _ in range(WARM_UP + loads):
            for address, taken in paints.items():
                taken.append(_first_paint(browser, address))
        page = _opened(browser, ours)
        page.locator("#line", has_text="Live").wait_for()
        page.evaluate(WATCH)
        plain = _opened(browser, word)
        plain.evaluate(WATCH)
        drawn = _presses(page, peer, presses)
        words = [_changed(plain) for _ in range(presses)]
    return Screen(
        spread(paints[ours][WARM_UP:]),
        spread(paints[word][WARM_UP:]),
        spread(drawn[WARM_UP:]),
        spread(words[WARM_UP:]),
    )


def _opened(browser: Browser, address: str) -> Page:
    page = browser.new_context(viewport={"width": 1920, "height": 1080}).new_page()
    page.goto(address)
    return page


def _first_paint(browser: Browser, address: str) -> float:
    """Of a browser that has never been there."""
    page = _opened(browser, address)
    found = float(page.evaluate(PAINTED))
    page.context.close()
    return found


def _presses(page: Page, peer: Peer, presses: int) -> list[float]:
    """Seconds from stored to drawn, press after press."""
    peer.drain_stamps()
    taken = []
    for number in range(presses):
        time.sleep(PAUSE_SECONDS)
        os.write(peer.terminals.ours[0], line(number))
        stored = peer.stamp_after(0.0)
        taken.append(_drawn(page) - (stored + _ahead(page)))
        peer.drain_stamps()
    return taken


def _changed(page: Page) -> float:
    """Seconds until a changed word is drawn."""
    began = float(page.evaluate(CHANGE))
    return _drawn(page) - began


def _drawn(page: Page) -> float:
    """When the page drew what changed first since the last call; of the page's clock."""
    deadline = time.monotonic() + 10
    while time.monotonic() < deadline:
        if found := page.evaluate(TAKE):
            return float(found[0])
        time.sleep(0.005)
    raise TimeoutError("the page did not draw it")


def _ahead(page: Page) -> float:
    """The page's clock less ours: of a few questions, the one that was answered soonest."""
    answers = []
    for _ in range(5):
        before = time.monotonic()
        there = float(page.evaluate("() => performance.now() / 1000"))
        after = time.monotonic()
        answers.append((after - before, there - (before + after) / 2))
    return min(answers)[1]


@contextmanager
def _one_word(folder: Path) -> Iterator[str]:
    home = folder / "one-word"
    home.mkdir(parents=True, exist_ok=True)
    (home / "index.html").write_text(WORD, encoding="utf-8")
    handler = functools.partial(_Quiet, directory=str(home))
    with ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        try:
            yield f"http://127.0.0.1:{server.server_port}/"
        finally:
            server.shutdown()
            thread.join()


class _Quiet(SimpleHTTPRequestHandler):
    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 # the base's name
        pass
