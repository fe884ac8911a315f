"""The bench page in a real browser, on a real service; everything measured in it is invented."""

from __future__ import annotations

import json
from decimal import ROUND_HALF_EVEN, Decimal
from pathlib import Path
from typing import Any

import httpx
from playwright.sync_api import Browser, Page, expect

from tests.browser.seen import DESK, PHONE, picture
from tests.running import SPEC, TOKEN
from tests.served import ROOT, served
from tests.support import free_port

FAR_PX = 58
READING_PX = 129
TARGET_PX = 73


def open_build(bench: httpx.Client) -> str:
    spec = bench.post("/v1/specs", content=SPEC.encode()).raise_for_status().json()["id"]
    body = {"spec": spec, "title": "Pump on stand 1"}
    return str(bench.post("/v1/builds", json=body).raise_for_status().json()["id"])


def press(
    bench: httpx.Client, value: str, instrument: str = "mic-1", unit: str = "mm"
) -> dict[str, Any]:
    body = {"instrument": instrument, "value": value, "unit": unit}
    found: dict[str, Any] = bench.post("/v1/readings", json=body).raise_for_status().json()
    return found


def size_of(page: Page, selector: str) -> float:
    script = "node => parseFloat(getComputedStyle(node).fontSize)"
    return float(page.locator(selector).evaluate(script))


def test_a_press_is_shown_with_its_verdict(page: Page, bench: httpx.Client) -> None:
    expect(page.locator("#next-title")).to_have_text("No build is open")
    expect(page.locator("#after a")).to_have_attribute("href", "/specs")
    open_build(bench)
    expect(page.locator("#next-title")).to_have_text("Sleeve diameter")
    expect(page.locator("#after")).to_be_hidden()
    expect(page.locator("#next-where")).to_have_text("Sleeve 1 · top")
    expect(page.locator("#cautions")).to_contain_text("Support the sleeve")
    press(bench, "25.000")
    expect(page.locator("#digits")).to_have_text("25.000")
    expect(page.locator("#stored")).to_have_text("Stored")
    expect(page.locator("#verdict")).to_have_text("Conforming")
    expect(page.locator("#next-where")).to_have_text("Sleeve 1 · bottom")
    expect(page.locator("#progress")).to_have_text("1 of 5 steps")
    expect(page.get_by_role("img", name="Limits: 24.990 to 25.010 mm.")).to_be_visible()
    expect(page.locator(".simulated")).to_be_visible()
    picture(page, "conforming")


def test_each_verdict_has_a_word_and_a_shape(page: Page, bench: httpx.Client) -> None:
    open_build(bench)
    for value, word in (
        ("25.000", "Conforming"),
        ("25.009", "Undecided"),
        ("25.030", "Nonconforming"),
    ):
        press(bench, value)
        expect(page.locator("#verdict")).to_have_text(word)
        shape = page.locator("#verdict svg use").get_attribute("href")
        assert shape == f"#shape-{word.lower()}"
        assert page.locator(f"symbol{shape} .ground").get_attribute("d")
        picture(page, word.lower())


def test_verdicts_differ_in_shape_not_only_in_colour(page: Page, bench: httpx.Client) -> None:
    open_build(bench)
    seen = set()
    for value, word in (("25.000", "Conforming"), ("25.030", "Nonconforming"), ("0.9", "Not eva")):
        press(bench, value)
        expect(page.locator("#verdict")).to_contain_text(word)
        seen.add(page.locator("#verdict svg").inner_html())
    assert len(seen) == 3


def test_sizes_for_two_metres_and_oily_fingers(page: Page, bench: httpx.Client) -> None:
    open_build(bench)
    press(bench, "25.030")
    expect(page.locator("#verdict")).to_have_text("Nonconforming")
    for selector in ("#next-title", "#next-where", "#verdict", "#unit"):
        assert size_of(page, selector) >= FAR_PX, selector
    assert size_of(page, "#digits") >= READING_PX
    for button in page.locator("button:visible").all():
        box = button.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= TARGET_PX, button.inner_text()


def test_a_long_reading_stays_on_the_page(page: Page, bench: httpx.Client) -> None:
    open_build(bench)
    press(bench, "-123456.789012")
    expect(page.locator("#digits")).to_have_text("−123456.789012")
    assert page.evaluate("document.documentElement.scrollWidth") <= DESK["width"]


def test_a_confirmation_is_one_touch(page: Page, bench: httpx.Client) -> None:
    build = open_build(bench)
    for _ in range(4):
        press(bench, "25.000" if _ % 2 else "25.001")
    confirm = page.get_by_role("button", name="Confirm")
    expect(confirm).to_be_visible()
    expect(page.locator("#next-text")).to_contain_text("Both faces wiped")
    expect(page.locator("#cautions")).to_contain_text("Solvent")
    picture(page, "confirm")
    confirm.click()
    expect(page.locator("#next-title")).to_have_text("Every step is done")
    assert bench.get(f"/v1/builds/{build}").json()["steps_done"] == 5
    after = page.locator("#after")
    for name, path in (("Build page", ""), ("Sheet as PDF", "/v1")):
        end = "/sheet.pdf" if path else ""
        link = after.get_by_role("link", name=name)
        expect(link).to_have_attribute("href", f"{path}/builds/{build}{end}")
    other = open_build(bench)
    bench.post(f"/v1/builds/{build}/activate", json={}).raise_for_status()
    picture(page, "done")
    after.get_by_role("button", name="Close the build").click()
    page.get_by_role("button", name="It is finished.").click()
    expect(page.locator("#next-title")).to_have_text("No build is open")
    assert bench.get(f"/v1/builds/{build}").json()["closed"]
    after.get_by_role("button", name="Take up an open build").click()
    page.get_by_role("button", name=f"({other})").click()
    expect(page.locator("#next-title")).to_have_text("Sleeve diameter")


def test_a_reading_is_voided_with_a_reason(page: Page, bench: httpx.Client) -> None:
    open_build(bench)
    seq = press(bench, "25.000")["seq"]
    page.get_by_role("button", name="Void this reading").click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("25.000 mm from mic-1")
    picture(page, "void")
    dialog.get_by_label("Reason").fill("The gauge slipped.")
    dialog.get_by_role("button", name="Record it").click()
    expect(page.locator("#verdict")).to_have_text("Voided")
    expect(page.locator("#placed")).to_have_text("The gauge slipped.")
    assert bench.get(f"/v1/readings/{seq}").json()["placement"]["reason"]["code"] == "void"


def test_what_waits_says_why_and_is_placed(page: Page, bench: httpx.Client) -> None:
    open_build(bench)
    seq = press(bench, "0.9840")["seq"]
    waiting = page.locator("#waiting")
    expect(waiting).to_be_visible()
    expect(waiting).to_contain_text("The unit may be mistaken")
    picture(page, "waiting")
    waiting.get_by_role("button", name="Void").click()
    page.get_by_label("Reason").fill("Set to inch.")
    page.get_by_role("button", name="Record it").click()
    expect(waiting).to_be_hidden()
    assert bench.get(f"/v1/readings/{seq}").json()["decided_by"] == "person"


def test_only_what_could_fit_is_offered_for_the_step(page: Page, bench: httpx.Client) -> None:
    open_build(bench)
    offered = page.get_by_role("button", name="Place on this step")
    press(bench, "12.5", unit="N·m")
    press(bench, "0.012", "bore-1")
    expect(page.locator("#holds li")).to_have_count(2)
    expect(offered).to_have_count(0)
    press(bench, "0.9840")
    expect(page.locator("#holds li")).to_have_count(3)
    expect(page.locator("#waiting-label")).to_have_text("Waiting for a decision: 3")
    expect(offered).to_have_count(1)


def test_older_ones_that_wait_are_counted(page: Page, bench: httpx.Client) -> None:
    open_build(bench)
    for number in range(7):
        press(bench, f"1.00{number}")
    expect(page.locator("#holds li")).to_have_count(5)
    expect(page.locator("#holds")).to_contain_text("1.006 mm")
    expect(page.locator("#holds")).not_to_contain_text("1.001 mm")
    expect(page.locator("#older")).to_contain_text("2 older readings wait too")
    picture(page, "older")


def test_the_page_says_that_a_spec_is_invented_and_its_cautions(
    page: Page, bench: httpx.Client
) -> None:
    expect(page.locator("#about")).to_be_hidden()
    open_build(bench)
    press(bench, "25.000")
    expect(page.locator("#invented")).to_contain_text("Invented spec")
    expect(page.locator("#invented")).to_contain_text("no real pump has these sizes")
    expect(page.locator("#general")).to_contain_text("Drain the pump before it is opened.")
    for selector in ("#about", "#next", "#last"):
        box = page.locator(selector).bounding_box()
        assert box is not None
        assert box["y"] >= 0
        assert box["y"] + box["height"] <= DESK["height"], selector
    picture(page, "invented")
    # On a telephone the mark and the first caution stay, the rest is one touch away.
    page.set_viewport_size(PHONE)
    shown = {"#invented b": True, "#notice": False, "#general li >> nth=0": True}
    for selector, is_seen in shown.items():
        expect(page.locator(selector)).to_be_visible(visible=is_seen)
    box = page.locator("#next").bounding_box()
    assert box is not None
    assert box["y"] < PHONE["height"] * 0.4
    picture(page, "invented-phone")
    page.get_by_role("button", name="All of it").click()
    expect(page.locator("#notice")).to_be_visible()
    page.reload()  # the browser keeps it
    expect(page.locator("#notice")).to_be_visible()
    page.get_by_role("button", name="Less").click()
    expect(page.locator("#notice")).to_be_hidden()


def test_a_step_with_much_to_say_stays_on_the_screen(page: Page, bench: httpx.Client) -> None:
    """The demo's engine: a tightening step has most facts and cautions, the spec has its own."""
    text = (ROOT / "simulators/scenarios/inline-four/engine.toml").read_text("utf-8")
    spec = bench.post("/v1/specs", content=text.encode()).raise_for_status().json()
    body = {"spec": spec["id"], "title": "Simulated bench: inline four (invented)"}
    bench.post("/v1/builds", json=body).raise_for_status()
    press(bench, "25.000")
    expect(page.locator("#invented")).to_contain_text("invented for a demonstration")
    expect(page.locator("#general li")).to_have_count(len(spec["cautions"]))
    bench_state = bench.get("/v1/bench").json()
    bench_state["next"]["step"].update(
        kind="tighten",
        target="30",
        unit="N·m",
        lubricant="engine oil on the threads and under the heads",
        instruments=["torque-adapter", "torque-wrench"],
        cautions=[
            "Pull at the middle of the grip, steadily, and stop at the click; no pipe on the "
            "handle. If the torque passes with no click, stop.",
            "Stand so that a slipped socket or a broken bolt does not throw you off balance.",
        ],
    )
    page.route("**/v1/bench", lambda route: route.fulfill(json=bench_state))
    page.reload()
    expect(page.locator("#next-facts")).to_contain_text("engine oil")
    for selector in ("#about", "#next", "#last"):
        box = page.locator(selector).bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= DESK["height"], selector
    picture(page, "much")
    # On a tablet the drawing stays beside what is said about it, however long the other column is.
    page.set_viewport_size({"width": 1024, "height": 768})
    page.locator("#last").evaluate("(node) => { node.style.minHeight = '1400px'; }")
    tops = [page.locator(one).bounding_box() for one in ("#drawing", "#next-facts")]
    assert tops[0] is not None
    assert tops[1] is not None
    assert tops[0]["height"] <= 768 * 0.44 + 1
    assert abs(tops[0]["y"] - tops[1]["y"]) < 100


def test_a_converted_size_is_rounded_once_for_the_page(page: Page, bench: httpx.Client) -> None:
    open_build(bench)
    reading = press(bench, "0.984251969", unit="in")
    if "reason" in reading["placement"]:
        body = {"build": "", "step": "measure-diameter/1/top", "reason": "Read in inch."}
        body["build"] = reading["placement"]["build"]
        where = f"/v1/readings/{reading['seq']}/placements"
        reading = bench.post(where, json=body).raise_for_status().json()
    assert reading["verdict"]["measured"] == "25.0000000126"
    expect(page.locator("#last-facts")).to_contain_text("≈ 25.000000 mm")
    expect(page.locator("#last-facts")).not_to_contain_text("25.0000000126")
    expect(page.locator("#digits")).to_have_text("0.984251969")


ROUNDED = [
    ("9.08398025382038268", 3, "9.084"),
    ("-0.00049", 3, "0.000"),
    ("-0.0015", 3, "-0.002"),
    ("0.0025", 3, "0.002"),
    ("0.0035", 3, "0.004"),
    ("0.00250000001", 3, "0.003"),
    ("9.9996", 3, "10.000"),
    ("123456789012345678.95", 1, "123456789012345679.0"),
    ("2.5", 0, "2"),
    ("25.400", 5, "25.400"),
    ("0.05", 0, "0"),
]
"""Decimal text, decimals at most, and what is shown of it."""


def test_rounding_is_half_to_even_and_exact(page: Page) -> None:
    """Python's decimal module, an independent one, says the same."""
    script = "async ([text, most]) => (await import('/static/numbers.js')).rounded(text, most)"
    for text, most, shown in ROUNDED:
        assert page.evaluate(script, [text, most]) == shown
        step = Decimal(1).scaleb(-min(most, -int(Decimal(text).as_tuple().exponent)))
        assert Decimal(shown) == Decimal(text).quantize(step, ROUND_HALF_EVEN)


def test_a_held_result_is_shown(page: Page, bench: httpx.Client) -> None:
    open_build(bench)
    press(bench, "25.030")
    expect(page.locator("#holds")).to_contain_text("Sleeve diameter, sleeve 1")
    expect(page.locator("#holds")).to_contain_text("reworked")


def test_a_lost_connection_is_said_loudly_and_caught_up(browser: Browser, tmp_path: Path) -> None:
    port = str(free_port())
    context = browser.new_context(viewport=DESK)
    page = context.new_page()
    with (
        served(tmp_path, "--port", port) as up,
        httpx.Client(base_url=up["url"], timeout=30) as http,
    ):
        open_build(http)
        press(http, "25.000")
        page.goto(str(up["url"]))
        expect(page.locator("#digits")).to_have_text("25.000")
        expect(page.locator("#line")).to_have_text("Live")
    expect(page.locator("#alarm")).to_contain_text("CONNECTION LOST")
    expect(page.locator("#line")).to_have_text("Connection lost")
    picture(page, "lost")
    with (
        served(tmp_path, "--port", port) as up,
        httpx.Client(base_url=up["url"], timeout=30) as http,
    ):
        for value in ("25.001", "25.002", "25.003"):
            press(http, value)
        expect(page.locator("#digits")).to_have_text("25.003", timeout=15_000)
        expect(page.locator("#alarm")).to_be_hidden()
        expect(page.locator("#progress")).to_have_text("4 of 5 steps")
        context.close()


def test_another_store_behind_the_same_address(browser: Browser, tmp_path: Path) -> None:
    """The page begins anew instead of waiting for entries that never come."""
    port = str(free_port())
    context = browser.new_context(viewport=DESK)
    page = context.new_page()
    first, second = tmp_path / "first", tmp_path / "second"
    first.mkdir()
    second.mkdir()
    with served(first, "--port", port) as up, httpx.Client(base_url=up["url"], timeout=30) as http:
        open_build(http)
        press(http, "25.000")
        page.goto(str(up["url"]))
        expect(page.locator("#digits")).to_have_text("25.000")
    with served(second, "--port", port):
        expect(page.locator("#next-title")).to_have_text("No build is open", timeout=15_000)
        expect(page.locator("#line")).to_have_text("Live")
        context.close()


def test_not_stored_is_said_loudly(page: Page, bench: httpx.Client) -> None:
    """The page hears what the service says when the disk is full."""
    open_build(bench)
    press(bench, "25.000")
    expect(page.locator("#stored")).to_have_text("Stored")
    trouble = {"state": "not_storing", "detail": "The disk is full.", "held": 2, "since": None}

    state = {**bench.get("/v1/bench").json(), "condition": trouble}
    page.add_init_script("delete window.SharedWorker")  # whose requests no test can answer
    page.route("**/v1/bench", lambda route: route.fulfill(json=state))
    page.route(
        "**/v1/events*",
        lambda route: route.fulfill(
            content_type="text/event-stream",
            body=f"event: condition\ndata: {json.dumps(trouble)}\n\n",
        ),
    )
    page.reload()
    expect(page.locator("#alarm")).to_contain_text("NOT STORED. 2 readings are held in memory.")
    expect(page.locator("#stored")).to_have_text("NOT STORED")
    # The last stored press must not be taken for one of those that are not.
    expect(page.locator("#verdict")).to_be_empty()
    expect(page.locator("#digits")).not_to_contain_text("25.000")
    expect(page.locator("#placed")).to_contain_text("25.000 mm from mic-1")
    picture(page, "not-stored")


def test_two_pages_show_the_same(page: Page, browser: Browser, bench: httpx.Client) -> None:
    open_build(bench)
    context = browser.new_context(viewport=PHONE)
    second = context.new_page()
    second.goto(str(bench.base_url))
    press(bench, "25.004")
    for one in (page, second):
        expect(one.locator("#digits")).to_have_text("25.004")
    assert second.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    picture(second, "phone")
    context.close()


def test_a_browser_gets_in_with_the_token(browser: Browser, tmp_path: Path) -> None:
    """Once by the address, once by the form; events then come with the cookie."""
    with served(tmp_path, "--token", TOKEN) as up:
        for way in ("address", "form"):
            context = browser.new_context(viewport=DESK)
            page = context.new_page()
            if way == "address":
                page.goto(f"{up['url']}/?token={TOKEN}")
            else:
                page.goto(str(up["url"]))
                page.get_by_label("Token").fill(TOKEN)
                page.get_by_role("button", name="Open the bench").click()
            expect(page.locator("#line")).to_have_text("Live")
            assert TOKEN not in page.url
            context.close()


def test_a_page_of_another_site_does_not_get_in(page: Page, browser: Browser) -> None:
    """A real browser on another origin of the same machine: neither reading nor writing works."""
    other = f"http://localhost:{page.url.rsplit(':', 1)[1]}"
    context = browser.new_context()
    stranger = context.new_page()
    stranger.goto(other)
    script = """async url => {
        const tries = [
            fetch(url + "v1/health"),
            fetch(url + "v1/operator", {method: "POST", mode: "no-cors",
                                        body: JSON.stringify({operator: "stranger"})}),
        ];
        return Promise.all(tries.map(one => one.then(answer => answer.status, () => "refused")));
    }"""
    assert stranger.evaluate(script, page.url) == ["refused", "refused"]
    context.close()


def test_dark_and_still(browser: Browser, bench: httpx.Client) -> None:
    open_build(bench)
    press(bench, "25.000")
    context = browser.new_context(
        viewport=DESK, color_scheme="dark", reduced_motion="reduce", base_url=str(bench.base_url)
    )
    page = context.new_page()
    page.goto("/")
    expect(page.locator("#verdict")).to_have_text("Conforming")
    ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert max(int(part) for part in ground[4:-1].split(",")) < 60
    picture(page, "dark")
    context.close()
