"""Foot pedals: keys of the browser, and what the service's own pedals tell; all of it invented."""

from __future__ import annotations

import json
from typing import Any

import httpx
from playwright.sync_api import Page, Route, expect

from tests.browser.hands import dialog
from tests.browser.seen import barriers, picture
from tests.browser.test_bench_page import open_build, press
from tests.browser.test_typed_gauge import NEVER_TORN, keep, stored, types
from tests.support import eventually


def foot(key: str, does: str, instrument: str | None = None) -> dict[str, Any]:
    code = f"Key{key.upper()}" if len(key) == 1 else key
    return {"chord": code, "shown": key, "does": does, "instrument": instrument}


def kinds(bench: httpx.Client) -> list[str]:
    found = bench.get("/v1/entries", params={"limit": 1000}).json()["entries"]
    return [entry["kind"] for entry in found]


def tread(page: Page, key: str, says: str) -> None:
    """Presses until the page says so: what comes soon after a press counts as the same one."""

    def said() -> bool:
        page.keyboard.press(key)
        return says in page.locator("#message").inner_text()

    eventually(said, says)


def until_confirming(bench: httpx.Client) -> None:
    open_build(bench)
    for value in ("25.000", "25.001", "25.000", "25.001"):
        press(bench, value)


def test_a_pedal_is_learnt_shown_used_and_removed(page: Page, bench: httpx.Client) -> None:
    until_confirming(bench)
    page.get_by_role("button", name="Gauges that type, pedals").click()
    page.get_by_role("button", name="Add a pedal").click()
    picture(page, "pedal-does")
    assert barriers(page) == []
    dialog(page).get_by_text("Confirm the step").click()
    page.get_by_role("button", name="Go on").click()
    expect(dialog(page)).to_contain_text("Press the pedal now")
    page.keyboard.press("5")
    expect(page.locator("#ask-problem")).to_contain_text("A gauge that types may type this key")
    page.keyboard.press("Enter")
    expect(page.locator("#ask-problem")).to_contain_text("The page itself needs this key")
    picture(page, "pedal-learn")
    assert barriers(page) == []
    page.keyboard.press("PageDown")
    expect(page.locator("#keys")).to_have_text("Pedal PageDown: confirms")
    page.reload()
    expect(page.locator("#next-title")).to_have_text("Faces clean")
    page.keyboard.press("PageDown")
    expect(page.locator("#next-title")).to_have_text("Every step is done")
    expect(page.locator("#message")).to_contain_text("Pedal PageDown: confirmed: Faces clean.")
    picture(page, "pedal-done")
    page.get_by_role("button", name="Gauges that type, pedals").click()
    page.get_by_role("button", name="Remove the pedal PageDown").click()
    expect(page.locator("#keys li")).to_have_count(0)
    assert kinds(bench).count("confirmation") == 1


def test_a_held_and_a_bouncing_pedal_is_one_press(page: Page, bench: httpx.Client) -> None:
    open_build(bench)
    keep(page, bench, pedals=[foot("PageDown", "confirm")])
    script = """async (presses) => {
        const pedals = await import("/static/pedals.js");
        const pedal = pedals.all()[0];
        const heard = [];
        const line = document.getElementById("message");
        const watch = new MutationObserver(() => heard.push(line.textContent.slice(9)));
        watch.observe(line, { childList: true, characterData: true, subtree: true });
        for (const [at, repeat] of presses) {
            pedals.press(pedal, { at, repeat });
            await new Promise((done) => setTimeout(done));
            line.textContent = "";
            await new Promise((done) => setTimeout(done));
        }
        watch.disconnect();
        return heard.filter(Boolean).length;
    }"""
    # Pressed; bounced at 40 and 299 ms; held; pressed again.
    presses = [[1000, False], [1040, False], [1299, False], [1550, True], [1583, True]]
    assert page.evaluate(script, presses) == 1
    assert page.evaluate(script, [[2000, False], [2301, False]]) == 2


def test_the_last_reading_is_voided_and_only_one_that_this_page_saw_come(
    page: Page, bench: httpx.Client
) -> None:
    open_build(bench)
    press(bench, "25.000")
    keep(page, bench, pedals=[foot("PageUp", "void")])
    page.keyboard.press("PageUp")
    expect(page.locator("#message")).to_contain_text("NOT DONE. No reading has come since")
    seq = press(bench, "25.002")["seq"]
    expect(page.locator("#digits")).to_have_text("25.002")
    page.get_by_role("button", name="Void this reading").click()
    tread(page, "PageUp", "NOT DONE. A question is open")
    page.keyboard.press("Escape")
    tread(page, "PageUp", "void")
    expect(page.locator("#placed")).to_have_text("foot pedal")
    assert bench.get(f"/v1/readings/{seq}").json()["placement"]["reason"]["code"] == "void"
    tread(page, "PageUp", "NOT DONE. The last reading is void already")


def test_send_asks_the_gauge(page: Page, bench: httpx.Client) -> None:
    state = {**bench.get("/v1/bench").json(), "askable": ["mic-1"]}
    page.route("**/v1/bench", lambda route: route.fulfill(json=state))
    asked: list[str] = []

    def ask(route: Route) -> None:
        asked.append(route.request.method)
        route.fulfill(status=202, json={"instrument": "mic-1", "asked": True})

    page.route("**/v1/instruments/mic-1/ask", ask)
    keep(page, bench, pedals=[foot("PageDown", "send", "mic-1")])
    page.keyboard.press("PageDown")
    expect(page.locator("#message")).to_contain_text("mic-1 was asked and has answered.")
    assert asked == ["POST"]
    page.unroute("**/v1/instruments/mic-1/ask")
    tread(page, "PageDown", "NOT DONE. mic-1 has no connection")


def test_a_letter_is_a_pedal_but_not_in_a_field_and_not_from_a_gauge(
    page: Page, bench: httpx.Client
) -> None:
    until_confirming(bench)
    keep(page, bench, pedals=[foot("m", "confirm")], types="mic-1", pace=NEVER_TORN)
    types(page, "25.003mm")
    eventually(lambda: "25.003 mm" in stored(bench), "the reading is stored")
    page.get_by_role("button", name="Void").first.click()
    page.keyboard.press("m")
    expect(dialog(page).get_by_label("Reason")).to_have_value("m", timeout=15_000)
    page.keyboard.press("Escape")
    assert "confirmation" not in kinds(bench)
    page.keyboard.press("m")
    expect(page.locator("#next-title")).to_have_text("Every step is done", timeout=15_000)


def test_pedals_begin_the_shift_and_do_what_is_suggested(page: Page, bench: httpx.Client) -> None:
    open_build(bench)
    feet = {"PageDown": "mend", "PageUp": "begin", "Home": "again"}
    keep(page, bench, pedals=[foot(key, does) for key, does in feet.items()])
    tread(page, "PageDown", "NOT DONE. Nothing is suggested")
    seq = press(bench, "0.9840")["seq"]
    expect(page.locator("#holds")).to_contain_text("The unit may be mistaken")
    tread(page, "PageDown", "0.9840 in")
    assert bench.get(f"/v1/readings/{seq}").json()["corrected"]["unit"] == "in"
    tread(page, "Home", "NOT DONE. Nothing can be said")
    page.keyboard.press("PageUp")
    expect(page.locator("#tone")).to_have_text("Tone on", timeout=15_000)
    tread(page, "PageUp", "NOT DONE. The shift has begun already")


def test_what_a_pedal_of_the_service_did_is_said(page: Page, bench: httpx.Client) -> None:
    told = {
        "pedal": "left", "does": "void", "instrument": None, "state": "ready", "detail": "",
        "at": "2026-01-31T08:00:00.000000Z",
        "press": {
            "result": "nothing", "detail": "reading 7 is void already", "seq": None,
            "at": "2026-01-31T08:00:01.000000Z",
        },
    }  # fmt: skip
    state = {**bench.get("/v1/bench").json(), "pedals": [told]}
    page.add_init_script("delete window.SharedWorker")  # whose requests no test can answer
    page.route("**/v1/bench", lambda route: route.fulfill(json=state))
    page.route(
        "**/v1/events*",
        lambda route: route.fulfill(
            content_type="text/event-stream", body=f"event: pedal\ndata: {json.dumps(told)}\n\n"
        ),
    )
    page.reload()
    expect(page.locator("#message")).to_contain_text(
        "Pedal left: NOT DONE. reading 7 is void already."
    )
    expect(page.locator("#keys")).to_contain_text("Pedal left: voids the last reading")
