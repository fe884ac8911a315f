"""One line to the service for all pages of a browser: nothing missed, nothing twice, and back after
an error page, a line that died in silence, and a service that was killed. All of it is invented."""

from __future__ import annotations

import json
import signal
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.seen import DESK
from tests.browser.test_bench_page import open_build, press
from tests.browser.voices import VOICES
from tests.running import BENCH
from tests.served import ROOT, command, served
from tests.support import eventually, free_port

PAGES = 7
"""One more than the connections that a browser opens to a host over HTTP/1.1."""


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[httpx.Client]:
    folder = tmp_path_factory.mktemp("shared-stream")
    with served(folder) as up, httpx.Client(base_url=up["url"], timeout=30) as http:
        yield http


HUB = """async ([kept, steps]) => {
    const { Hub } = await import("/static/hub.js");
    const log = [];
    const feeds = [];
    const ports = {};
    const hub = new Hub((after, told) => {
        log.push(`feed ${after}`);
        feeds.push({ ...told, close: () => log.push("closed") });
        return feeds.at(-1);
    }, kept);
    const port = (name) => {
        if (ports[name]) return ports[name];
        ports[name] = { postMessage({ event, line, strange }) {
            const what = event ? `${event.name} ${event.id ?? event.data}`
                : strange ? "strange" : line ? "live" : "lost";
            log.push(`${name}: ${what}`);
        } };
        hub.connect(ports[name]);
        return ports[name];
    };
    for (const [what, ...rest] of steps) {
        if (what === "page") port(rest[0]).onmessage({ data: rest[1] });
        else if (what === "heard") {
            const [name, id, data] = rest;
            feeds.at(-1).heard({ name, id, data });
        }
        else feeds.at(-1)[what]();
    }
    return log;
}"""

HUBS: dict[str, tuple[list[Any], list[str]]] = {
    "one line for two, and the second gets what it lacks": (
        [
            ["page", "a", {"join": 5}],
            ["opened"],
            ["heard", "reading", 6, "{}"],
            ["heard", "entry", 7, "{}"],
            ["heard", "device", None, '{"instrument":"mic"}'],
            ["heard", "device", None, '{"instrument":"mic"} '],
            ["page", "b", {"join": 6}],
            ["heard", "reading", 8, "{}"],
            ["lost"],
        ],
        [
            "feed 5", "a: live", "a: reading 6", "a: entry 7",
            'a: device {"instrument":"mic"}', 'a: device {"instrument":"mic"} ',
            "b: entry 7", 'b: device {"instrument":"mic"} ', "b: live",
            "a: reading 8", "b: reading 8", "a: lost", "b: lost",
        ],
    ),
    "older than what is kept: the line is opened anew from there": (
        [
            ["page", "a", {"join": 0}],
            *(["heard", "entry", seq, "{}"] for seq in (1, 2, 3, 4)),
            ["page", "b", {"join": 2}],
            ["page", "c", {"join": 1}],
            ["heard", "entry", 2, "{}"],
        ],
        [
            "feed 0", "a: entry 1", "a: entry 2", "a: entry 3", "a: entry 4",
            "b: entry 3", "b: entry 4",
            "closed", "feed 1", "a: entry 2", "b: entry 2", "c: entry 2",
        ],
    ),
    "another store: every page begins anew": (
        [
            ["page", "a", {"join": 9}],
            ["page", "b", {"join": 9}],
            ["strange"],
            ["page", "a", {"join": 1}],
        ],
        ["feed 9", "closed", "a: strange", "b: strange", "feed 1"],
    ),
    "who is gone is not told any more, and the last one closes the line": (
        [
            ["page", "a", {"join": 0}],
            ["page", "b", {"join": 0}],
            ["page", "a", {"leave": True}],
            ["heard", "entry", 1, "{}"],
            ["page", "b", {"leave": True}],
        ],
        ["feed 0", "b: entry 1", "closed"],
    ),
    "a page that answers no ping is forgotten, and may come back": (
        [
            ["page", "a", {"join": 0}],
            *(["heard", "ping", None, "{}"] for _ in range(4)),
            ["page", "a", {"here": True}],
            *(["heard", "ping", None, "{}"] for _ in range(8)),
            ["page", "a", {"here": True}],
            ["page", "a", {"join": 0}],
        ],
        ["feed 0", *["a: ping {}"] * 4, *["a: ping {}"] * 7, "closed", "feed 0"],
    ),
}  # fmt: skip


def test_what_pages_are_told(page: Page) -> None:
    for case, (steps, wanted) in HUBS.items():
        assert page.evaluate(HUB, [2, steps]) == wanted, case


FEED = """async () => {
    const { Feed } = await import("/static/feed.js");
    const log = [];
    const made = [];
    const real = [EventSource, fetch];
    let health = { status: 200, ok: true, json: async () => ({ size: 9 }) };
    // The page goes on asking for its state.
    window.fetch = async (...asked) => (asked[0] === "/v1/health" ? health : real[1](...asked));
    window.EventSource = class {
        static CLOSED = 2;
        listeners = {};
        readyState = 1;
        constructor(url) { log.push(url); made.push(this); }
        addEventListener(name, act) { this.listeners[name] = act; }
        close() { log.push("close"); }
    };
    const told = {
        heard: ({ name, id }) => log.push(`${name} ${id}`),
        opened: () => log.push("opened"),
        lost: () => log.push("lost"),
        strange: () => log.push("strange"),
    };
    const until = (there) => new Promise((done) => {
        const look = () => (there() ? done() : setTimeout(look, 2));
        look();
    });
    const feed = new Feed(3, told, { quiet: 400, pause: 10 });
    made[0].onopen();
    made[0].listeners.reading({ data: "{}", lastEventId: "4" });
    made[0].listeners.ping({ data: "{}", lastEventId: "4" });
    // The browser tries again by itself.
    made[0].readyState = 0;
    made[0].onerror();
    // An error page: it has given up.
    made[0].readyState = 2;
    made[0].onerror();
    await until(() => made.length === 2);
    log.push("-");
    // Nothing is heard any more.
    made[1].onopen();
    await until(() => made.length === 3);
    log.push("-");
    health = { status: 200, ok: true, json: async () => ({ size: 2 }) };
    made[2].readyState = 2;
    made[2].onerror();
    await until(() => log.at(-1) === "strange");
    feed.close();
    [window.EventSource, window.fetch] = real;
    return log;
}"""


def test_a_line_that_ends_or_falls_silent_is_made_anew(page: Page) -> None:
    assert page.evaluate(FEED) == [
        "/v1/events?after=3", "opened", "reading 4", "ping null", "lost", "close", "lost",
        "/v1/events?after=4", "-", "opened", "close", "lost",
        "/v1/events?after=4", "-", "close", "lost", "strange",
    ]  # fmt: skip


def test_a_browser_whose_worker_fails_has_a_line_of_its_own(page: Page) -> None:
    page.add_init_script(
        """window.SharedWorker = class {
            port = { postMessage() {} };
            constructor() { setTimeout(() => this.onerror()); }
        };"""
    )
    page.reload()
    expect(page.locator("#line")).to_have_text("Live")


def test_a_press_that_the_state_has_overtaken_is_heard_all_the_same(
    page: Page, bench: httpx.Client
) -> None:
    """Two presses, of which the state is told before the stream brings the first."""
    page.add_init_script(VOICES + "delete window.SharedWorker;")
    said = ["retry: 100\n\n"]
    page.route(
        "**/v1/events*",
        lambda route: route.fulfill(content_type="text/event-stream", body=said[0]),
    )
    with httpx.Client(base_url=bench.base_url, timeout=30) as http:
        _overtaken(page, http, said)


def _overtaken(page: Page, bench: httpx.Client, said: list[str]) -> None:
    open_build(bench)
    page.reload()
    expect(page.locator("#next-where")).to_have_text("Sleeve 1 · top")
    page.keyboard.press("s")
    expect(page.locator("#tone")).to_have_text("Tone on")
    first, second = press(bench, "25.050"), press(bench, "25.000")
    said[0] = f"retry: 100\nid: {first['seq']}\nevent: entry\ndata: {{}}\n\n"
    expect(page.locator("#digits")).to_have_text("25.000")
    before = page.evaluate("pulses")
    said[0] = "retry: 100\n" + "".join(
        f"id: {one['seq'] + 1}\nevent: reading\ndata: {json.dumps(one)}\n\n"
        for one in (first, second)
    )
    # Conforming is one pulse, nonconforming five.
    eventually(lambda: page.evaluate("pulses") >= before + 6, "both are heard")
    expect(page.locator("#digits")).to_have_text("25.000")


EAR = """async () => {
    const { listen } = await import("/static/stream.js");
    const { now } = await import("/static/now.js");
    window.ids = [];
    const heard = (_, __, id) => id !== null && ids.push(id);
    listen(0, now().bench, { heard, opened() {}, lost() {} });
}"""


@contextmanager
def killed(folder: Path, port: int) -> Iterator[httpx.Client]:
    """A service that does not end in order."""
    paths = ("--bench", str(folder / "bench.toml"), "--store", str(folder / "store"))
    process = subprocess.Popen(
        command("serve", *paths, "--port", str(port), "--json"),
        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, encoding="utf-8", cwd=ROOT,
    )  # fmt: skip
    assert process.stdout is not None
    try:
        url = json.loads(process.stdout.readline())["url"]
        with httpx.Client(base_url=url, timeout=30) as http:
            yield http
    finally:
        process.send_signal(signal.SIGKILL)
        process.communicate()


@contextmanager
def error_pages(port: int) -> Iterator[list[str]]:
    """What stands in front of a service that is down; gives the paths that were asked for."""
    asked: list[str] = []

    class Front(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self.path)
            self.send_error(502)

        def log_message(self, *_: Any) -> None:
            pass

    with HTTPServer(("127.0.0.1", port), Front) as server:
        thread = threading.Thread(target=server.serve_forever, args=(0.02,))
        thread.start()
        try:
            yield asked
        finally:
            server.shutdown()
            thread.join()


def history(http: httpx.Client) -> list[int]:
    """The ids of all events of the store: every entry but presses is one."""
    found = http.get("/v1/entries", params={"limit": 1000}).json()["entries"]
    return [entry["seq"] for entry in found if entry["kind"] != "press"]


def test_seven_pages_live_through_a_kill_and_an_error_page(
    browser: Browser, tmp_path: Path
) -> None:
    (tmp_path / "bench.toml").write_text(BENCH, "utf-8")
    port = free_port()
    context = browser.new_context(viewport=DESK)
    pages = [context.new_page() for _ in range(PAGES)]
    with killed(tmp_path, port) as http:
        open_build(http)
        for one in pages:
            one.goto(str(http.base_url))
            expect(one.locator("#line")).to_have_text("Live")
            one.evaluate(EAR)
        press(http, "25.000")
        for one in pages:
            expect(one.locator("#digits")).to_have_text("25.000")
    for one in pages:
        expect(one.locator("#alarm")).to_contain_text("CONNECTION LOST")
    with error_pages(port) as asked:
        eventually(
            lambda: any(path.startswith("/v1/events") for path in asked), "the error page is met"
        )
    with killed(tmp_path, port) as http:
        for value in ("25.001", "25.002", "25.003"):
            press(http, value)
        for one in pages:
            expect(one.locator("#digits")).to_have_text("25.003", timeout=20_000)
            expect(one.locator("#alarm")).to_be_hidden()
        wanted = history(http)
        for one in pages:
            one.wait_for_function(f"ids.length >= {len(wanted)}")
            assert one.evaluate("ids") == wanted
        context.close()


def test_another_ledger_behind_the_same_address_is_begun_anew(
    browser: Browser, tmp_path: Path
) -> None:
    for name in ("one", "other"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "bench.toml").write_text(BENCH, "utf-8")
    port = free_port()
    context = browser.new_context(viewport=DESK)
    old, fresh = context.new_page(), context.new_page()
    with killed(tmp_path / "one", port) as http:
        old.goto(str(http.base_url))
        expect(old.locator("#line")).to_have_text("Live")
        open_build(http)
        press(http, "25.000")
        expect(old.locator("#digits")).to_have_text("25.000")
    with killed(tmp_path / "other", port) as http:
        # This page comes before the old one's line has found out.
        fresh.goto(str(http.base_url))
        expect(fresh.locator("#line")).to_have_text("Live")
        assert fresh.locator("#digits").inner_text() == "–"
        expect(old.locator("#digits")).to_have_text("–", timeout=20_000)
        open_build(http)
        press(http, "25.002")
        for one in (old, fresh):
            expect(one.locator("#digits")).to_have_text("25.002")
    context.close()
