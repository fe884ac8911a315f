"""A key, a pedal and a touch do what the person saw, not what slid under it; all is invented."""

from __future__ import annotations

import re
from typing import Any

import httpx
from playwright.sync_api import Page, expect

from tests.browser.hands import dialog
from tests.browser.test_bench_page import open_build, press
from tests.browser.test_pedal_keys import foot, kinds, tread
from tests.browser.test_typed_gauge import keep
from tests.support import eventually

LETTERS = """async () => {
    const { Letters, Place } = await import("/static/unmoved.js");
    const letters = new Letters(["a", "b", "c"]);
    const found = [
        letters.of(["one", "two"], 0),
        letters.of(["two", "three"], 10),
        letters.of(["two", "four"], 20),
        letters.of(["two", "four"], 3020),
        letters.of(["two", "four", "five", "six"], 9000),
    ];
    const place = new Place();
    const came = [];
    for (const [name, at, asked] of [
        ["A", 0, 1], ["A", 500, 500], ["B", 1000, 1599], ["B", 1000, 1601], [null, 2000, 2001],
        ["C", 2100, 2200], [null, 4000, 4001], ["D", 9000, 9001],
    ]) {
        place.holds(name, at);
        came.push(place.justCame(asked));
    }
    return [found, came];
}"""
STRAY = "0.9840"
"""Sent as mm where 25 mm are wanted: it can only be inches."""


def corrected(bench: httpx.Client) -> list[int]:
    found = bench.get("/v1/readings", params={"limit": 1000}).json()["readings"]
    return [one["seq"] for one in found if one["corrected"]]


def mend(page: Page, seq: int) -> Any:
    return page.locator(f'[data-key="mend {seq}"]')


def test_letters_stay_and_rest_and_a_place_tells_what_has_just_come(page: Page) -> None:
    found, came = page.evaluate(LETTERS)
    assert found == [
        ["a", "b"],
        ["b", "c"],
        ["b", None],  # the other two meant something else a moment ago
        ["b", "a"],
        ["b", "a", "c", None],
    ]
    assert came == [False, False, True, False, False, True, False, False]


def by_hand(page: Page, key: str) -> None:
    """Keys that come faster are a machine's."""
    page.wait_for_timeout(150)
    page.keyboard.press(key)


def test_what_waits_keeps_its_letter_and_a_letter_never_means_the_next(
    page: Page, bench: httpx.Client
) -> None:
    open_build(bench)
    one, two, three = [press(bench, value)["seq"] for value in (STRAY, "0.9841", "0.9842")]
    expect(page.locator("#holds li")).to_have_count(3)
    letters = {seq: mend(page, seq).get_attribute("data-press") for seq in (one, two, three)}
    assert sorted(letters.values()) == ["a", "b", "c"]
    # The first goes while the hand is on its way to the second: the letters stand.
    bench.post(f"/v1/readings/{one}/voids", json={"reason": "twice"}).raise_for_status()
    expect(page.locator("#holds li")).to_have_count(2)
    assert mend(page, two).get_attribute("data-press") == letters[two]
    by_hand(page, str(letters[one]))
    expect(page.locator("#message")).to_contain_text("Nothing that waits has the key")
    # A second time by mistake: the one below has moved up, and is not mended with it.
    by_hand(page, str(letters[two]))
    by_hand(page, str(letters[two]))
    eventually(lambda: corrected(bench) == [two], "it is mended")
    expect(page.locator("#holds li")).to_have_count(1)
    expect(page.locator("#message")).to_contain_text(re.compile("is taken as|Nothing that waits"))
    by_hand(page, str(letters[two]))
    expect(page.locator("#message")).to_contain_text("Nothing that waits has the key")
    assert corrected(bench) == [two]
    assert kinds(bench).count("decision") == 3 + 1 + 1
    # One that was decided on meanwhile, before it was drawn here.
    page.route("**/v1/bench", lambda route: route.abort())
    bench.post(f"/v1/readings/{three}/voids", json={"reason": "twice"}).raise_for_status()
    by_hand(page, str(letters[three]))
    expect(page.locator("#message")).to_contain_text("NOT DONE. It has been decided on meanwhile.")
    assert corrected(bench) == [two]


def test_a_pedal_and_a_finger_wait_until_a_change_can_have_been_seen(
    page: Page, bench: httpx.Client
) -> None:
    open_build(bench)
    keep(page, bench, pedals=[foot("PageDown", "mend"), foot("PageUp", "void")])
    seqs = [press(bench, value)["seq"] for value in (STRAY, "0.9841", "0.9842")]
    expect(page.locator("#holds li")).to_have_count(3)
    # In one go: the list is redrawn, and a pedal and a finger come before anybody can have seen it.
    hasty = """async ([seq, name]) => {
        const { now } = await import("/static/now.js");
        const { waiting } = await import("/static/waiting.js");
        const pedals = await import("/static/pedals.js");
        const pedal = pedals.all().find((one) => one.does === name);
        const state = now();
        state.unplaced = state.unplaced.filter((one) => one.seq !== seq);
        waiting(state);
        const first = document.querySelector('#holds [data-key^="mend "]');
        if (pedal) pedals.press(pedal, { at: performance.now(), repeat: false });
        else first.dispatchEvent(new MouseEvent("click", { detail: 1, bubbles: true }));
        await new Promise((done) => setTimeout(done, 50));
        return document.getElementById("message").textContent;
    }"""
    assert "only just come" in page.evaluate(hasty, [seqs[0], "mend"])
    assert "only just come" in page.evaluate(hasty, [seqs[1], "touch"])
    assert corrected(bench) == []
    tread(page, "PageDown", "is taken as")
    assert len(corrected(bench)) == 1
    # A reading slides in under a foot that means the one before it.
    press(bench, "25.000")
    expect(page.locator("#digits")).to_have_text("25.000")
    slid = """async () => {
        const pedals = await import("/static/pedals.js");
        const { now } = await import("/static/now.js");
        now().last = { ...now().last, seq: now().last.seq + 1 };
        pedals.last(now().last);
        pedals.press(pedals.all().find((one) => one.does === "void"), { at: 1e9, repeat: false });
        await new Promise((done) => setTimeout(done, 50));
        return document.getElementById("message").textContent;
    }"""
    assert "only just come" in page.evaluate(slid)
    assert kinds(bench).count("decision") == 3 + 1 + 1


def test_a_pedal_does_not_void_the_reading_before_a_pull_that_lasts(
    page: Page, bench: httpx.Client
) -> None:
    open_build(bench)
    keep(page, bench, pedals=[foot("PageUp", "void")])
    press(bench, "25.000")
    expect(page.locator("#digits")).to_have_text("25.000")
    pull = """async (state) => (await import("/static/pulling.js")).pull({
        instrument: "wrench-1", unit: "N·m", interval_us: 50000, from: 0, state,
        torque: ["1.0", "2.0"], angle: null, incomplete: null,
    }, null)"""
    for state in ("pulling", "ended"):
        page.evaluate(pull, state)
        tread(page, "PageUp", "A pull of wrench-1 is not stored yet")
    assert kinds(bench).count("decision") == 1
    script = '(await import("/static/pulling.js")).stored({ instrument: "wrench-1" })'
    page.evaluate(f"async () => {script}")
    deaf = """async () => {
        const { line } = await import("/static/now.js");
        const pedals = await import("/static/pedals.js");
        line(false);
        pedals.press(pedals.all()[0], { at: performance.now() + 1e6, repeat: false });
        line(true);
        return document.getElementById("message").textContent;
    }"""
    eventually(lambda: "The connection is lost" in page.evaluate(deaf), "no void without a line")
    page.reload()
    press(bench, "25.000")
    expect(page.locator("#digits")).to_have_text("25.000")
    tread(page, "PageUp", "void: 25.000 mm")


def test_a_reading_is_typed_in_for_the_step_that_was_seen(page: Page, bench: httpx.Client) -> None:
    open_build(bench)
    expect(page.locator("#next-where")).to_have_text("Sleeve 1 · top")
    page.keyboard.press("t")
    dialog(page).get_by_label("Reading").fill("25.001")
    press(bench, "25.000")
    expect(page.locator("#next-where")).to_have_text("Sleeve 1 · bottom")
    before = kinds(bench).count("press")
    page.keyboard.press("Enter")
    expect(page.locator("#ask-problem")).to_contain_text("The build wants another step by now")
    assert kinds(bench).count("press") == before


def test_one_press_confirms_one_step(page: Page, bench: httpx.Client) -> None:
    twice = """async () => {
        const { drawn, confirm } = await import("/static/confirm.js");
        const step = { kind: "confirm", id: "one", pass: 1 };
        drawn({ id: "b1" }, step);
        drawn({ id: "b1" }, { ...step, id: "two" });
        return confirm().catch((error) => error.message);
    }"""
    assert "only just come" in page.evaluate(twice)
