"""What the bench page draws and how it is seen: the bar, the drawing, a pull while it lasts, what
is stale, why, mends at one key, colours, German; everything measured is invented."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import httpx
import pytest
from playwright.sync_api import Page, expect

from tests.browser.contrast import faint
from tests.browser.engine import BENCH, BOLTS, GAP, Bench
from tests.browser.hands import dialog
from tests.browser.seen import DESK, PHONE, barriers, picture
from tests.served import served
from tests.support import eventually

LAND = """
[[characteristic]]
id = "land"
title = "Piston land"
part = "piston"
unit = "mm"
lower_limit_of_size = "24.990"
upper_limit_of_size = "25.010"
plausible = { lower = "24", upper = "26" }
instruments = ["micrometer"]
cautions = ["Edges are sharp."]

[[operation]]
measure = "land"
"""
AT = "2026-01-05T10:20:30.000000Z"


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    folder = tmp_path_factory.mktemp("looks")
    (folder / "bench.toml").write_text(BENCH, "utf-8")
    # No connection is kept from one test to the next.
    limits = httpx.Limits(max_keepalive_connections=0)
    with served(folder) as up, Bench(base_url=up["url"], timeout=30, limits=limits) as http:
        yield http


# the bar -----------------------------------------------------------------------------------------

SCALE = """async (said) => {
    const { laid } = await import("/static/scale.js");
    const { limits, zones, size } = laid(said);
    return [limits, zones, size.from, size.at, size.to, size.out];
}"""
DRAWN = """async (reading) => {
    const { bar } = await import("/static/bar.js");
    bar(reading);
    return document.getElementById("bar").hidden;
}"""


def laid(page: Page, low: str | None, high: str | None = "", **said: str | None) -> list[Any]:
    whole = {"lower": None, "upper": None, "zone": None, "span": None, **said}
    found: list[Any] = page.evaluate(
        SCALE, {**whole, "low": low, "high": low if high == "" else high}
    )
    return found


def test_a_size_lies_where_it_belongs(page: Page) -> None:
    """Against the rule of three, worked in decimals."""
    for value in ("24.990", "24.995", "25.000", "25.0099", "25.010"):
        limits, zones, start, at, end, out = laid(
            page, value, lower="24.990", upper="25.010", zone="0.002", span="0.001"
        )
        part = (Decimal(value) - Decimal("24.990")) / Decimal("0.020")
        assert at == pytest.approx(float(Decimal("0.2") + part * Decimal("0.6")))
        assert (at - start, end - at) == pytest.approx((0.03, 0.03))
        assert limits == pytest.approx([0.2, 0.8])
        assert zones[0] == pytest.approx([0.14, 0.26])
        assert out == 0
    assert laid(page, "25.0101", lower="24.990", upper="25.010")[5] == 1
    assert laid(page, "24.9899", lower="24.990", upper="25.010")[5] == -1
    far = laid(page, "400", lower="24.990", upper="25.010")
    assert far[3] == pytest.approx(0.955)  # at the edge, never off the picture
    one = laid(page, "0.010", upper="0.020", zone="0.001", span="0.001")
    assert one[0] == [None, pytest.approx(0.8)]
    assert 0.045 < one[3] < 0.8
    assert laid(page, "0.030", upper="0.020")[3] > 0.8
    least = laid(page, "9", lower="10")
    assert (least[0][1], least[5], least[3] < 0.2) == (None, -1, True)
    # A bracket: all of it outside, reaching over a limit, open above.
    assert laid(page, "0.31", "0.32", lower="0.35", upper="0.55")[5] == -1
    assert laid(page, "0.34", "0.36", lower="0.35", upper="0.55")[5] == 0
    assert laid(page, "0.50", None, lower="0.35", upper="0.55")[4] == pytest.approx(0.955)


def test_the_last_press_lies_on_its_bar(page: Page, bench: Bench) -> None:
    bench.build(LAND)
    bench.press("25.000")
    bar = page.locator("#bar")
    expect(page.locator("#digits")).to_have_text("25.000")
    said = "Measured 25.000 mm. Limits: 24.990 to 25.010 mm. Uncertainty ± 0.0012 mm"
    expect(bar.get_by_role("img", name=said)).to_be_visible()
    expect(bar.locator("text")).to_have_text(["24.990", "25.010"])
    expect(bar.locator(".zone")).to_have_count(2)
    expect(bar.locator(".out")).to_have_count(0)
    bench.press("25.030")
    expect(bar.locator("figcaption")).to_have_text("0.020 mm above the upper limit")
    expect(bar.locator(".out")).to_have_count(1)
    expect(bar.locator("use")).to_have_attribute("href", "#shape-nonconforming")
    picture(page, "bar-outside")
    verdict = {"result": "conforming", "unit": "mm", "rule": "guarded", "guard_band": "0.002"}
    bracket = {**verdict, "lower": "0.35", "upper": "0.55", "bracket": ["0.40", "0.45"]}
    placed: dict[str, Any] = {"placement": {"step": "x"}}
    assert page.evaluate(DRAWN, {**placed, "verdict": bracket}) is False
    expect(bar.locator(".span.bracket")).to_have_count(1)
    expect(bar.locator("svg")).to_have_attribute("aria-label", "Measured 0.40 – 0.45 mm. "
        "Limits: 0.35 to 0.55 mm.")  # fmt: skip
    most = {**verdict, "upper": "0.02", "measured": "0.0300000000001"}
    assert page.evaluate(DRAWN, {**placed, "verdict": most}) is False
    expect(bar.locator("text")).to_have_text(["0.02"])
    expect(bar.locator("figcaption")).to_have_text("0.0100 mm above the upper limit")
    assert page.evaluate(DRAWN, {**placed, "verdict": {**verdict, "measured": "1"}}) is True
    assert page.evaluate(DRAWN, {**placed, "verdict": most, "zero": {"steady": True}}) is True


SUITED = """async ([step, instruments]) => {
    const { suited } = await import("/static/suited.js");
    return suited(step, { instruments }).map((one) => one.id);
}"""


def test_instruments_that_reach_the_size_are_named(page: Page) -> None:
    gauge = {"kind": "bore-gauge", "unit": "mm", "comparative": True, "range": ["-1", "1"]}
    bench = [
        {**gauge, "id": "small", "setting": {"size": "62.000", "unit": "mm"}},
        {**gauge, "id": "large", "setting": {"size": "86.000", "unit": "mm"}},
        {**gauge, "id": "unset", "setting": None},
        {"id": "mic", "kind": "micrometer", "unit": "mm", "range": ["75", "100"]},
    ]
    step = {"kind": "measure", "unit": "mm", "instruments": ["bore-gauge"]}
    at_86 = {**step, "lower": "86.000", "upper": "86.030"}
    assert page.evaluate(SUITED, [at_86, bench]) == ["large", "unset"]
    # Where none reaches, all are shown: something has to be set, or chosen, by a person.
    none = {**step, "lower": "40.000", "upper": "40.010", "instruments": ["micrometer"]}
    assert page.evaluate(SUITED, [none, bench]) == ["mic"]
    assert page.evaluate(SUITED, [{**step, "kind": "zero"}, bench]) == ["small", "large", "unset"]


# the drawing -------------------------------------------------------------------------------------

PARSED = """async (text) => {
    const { parsed } = await import("/static/drawing.js");
    return parsed(text)?.outerHTML ?? null;
}"""
EVIL = (
    '<svg xmlns="http://www.w3.org/2000/svg" onload="x()"><script>x()</script>'
    '<a href="https://example.org/"><path d="M0 0" style="fill:red" onclick="x()"/></a>'
    '<use href="#here"/><foreignObject><p/></foreignObject></svg>'
)


def test_the_drawing_follows_the_step_and_may_be_missing(page: Page, bench: Bench) -> None:
    bench.build(LAND)
    drawn = page.locator("#drawing svg")
    expect(drawn).to_be_visible()
    box = page.locator("#drawing").bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) > 250
    first = drawn.inner_html()
    bench.press("25.001")
    expect(page.locator("#next-where")).to_contain_text("Piston 2")
    eventually(lambda: drawn.count() == 1 and drawn.inner_html() != first, "the point moves on")
    picture(page, "drawing")
    assert page.evaluate(PARSED, EVIL) == (
        '<svg xmlns="http://www.w3.org/2000/svg"><a><path d="M0 0"/></a><use href="#here"/></svg>'
    )
    assert page.evaluate(PARSED, "<html><body/></html>") is None
    assert page.evaluate(PARSED, "no picture") is None
    page.route("**/drawings?*", lambda route: route.fulfill(status=404, json={}))
    page.reload()
    expect(page.locator("#next-where")).to_contain_text("Piston 2")
    expect(page.locator("#drawing")).to_be_hidden()


# a pull while it lasts ---------------------------------------------------------------------------

CLICKS = """async (cases) => {
    const { click, thinned } = await import("/static/pullshape.js");
    const long = Array.from({ length: 9000 }, (_, at) => Math.sin(at / 700) + (at === 4321));
    const points = thinned(long, 600);
    return [cases.map(([torque, interval]) => click(torque, interval)),
        points.length, Math.max(...points.map(([, one]) => one)) === Math.max(...long)];
}"""
PULL = """async ([data, step]) => {
    const { pull } = await import("/static/pulling.js");
    pull(data, step);
}"""
RISE = [at / 2 for at in range(80)]


def test_what_looks_like_a_click(page: Page) -> None:
    let_go = [40 * (1 - at / 40) for at in range(41)]
    cases = [
        ([*RISE, 40, 30, 29, 29, 29, 29, 30, 20, 10, 0, 0, 0, 0], 5000),  # it breaks and holds
        ([*RISE, *let_go, 0, 0, 0, 0, 0, 0, 0, 0], 5000),  # a hand that lets go
        ([*RISE, 40, 0, 0, 0, 0, 0, 0, 0, 0], 5000),  # a slip: nothing is left
        (RISE, 5000),
        ([], 5000),
    ]
    found, points, kept = page.evaluate(CLICKS, cases)
    assert found == [80, None, None, None, None]
    assert points <= 650
    assert kept, "no peak is lost where the curve is thinned"


def test_a_pull_is_drawn_as_provisional_until_it_is_stored(page: Page, bench: Bench) -> None:
    bench.build(BOLTS)
    expect(page.locator("#next-target")).to_have_text("40 N·m")
    step = bench.get("/v1/bench").json()["next"]["step"]
    event: dict[str, Any] = {
        "instrument": "tester", "state": "pulling", "unit": "N·m", "interval_us": 5000, "from": 0,
        "torque": [f"{one:.1f}" for one in RISE], "angle": None, "incomplete": None,
    }  # fmt: skip
    page.evaluate(PULL, [event, step])
    pull = page.locator("#pull")
    expect(pull.locator("#pull-word")).to_have_text("Being pulled. Not stored yet.")
    expect(page.locator("#pull-digits")).to_have_text("39.5")
    expect(pull.get_by_role("img", name="Wanted: 36.00 to 44.00 N·m")).to_be_visible()
    expect(pull.locator(".wanted")).to_have_count(1)
    expect(page.locator("#stored")).to_be_hidden()  # nothing says "stored" meanwhile
    rest = ["40.0", "30.0", *["29.0"] * 12, "0.0", "0.0", "0.0"]
    # The last four were sent before.
    again = {**event, "from": 76, "torque": [*event["torque"][76:], *rest], "state": "ended"}
    page.evaluate(PULL, [again, step])
    expect(pull.locator("#pull-word")).to_have_text(
        "Click at 40.0 N·m, it seems. Ended. Not stored yet."
    )
    expect(page.locator("#pull-digits")).to_have_text("40.0")
    dashed = "node => getComputedStyle(node).strokeDasharray"
    assert pull.locator(".provisional").evaluate(dashed) != "none"
    assert pull.evaluate("node => getComputedStyle(node).borderStyle") == "dashed"
    picture(page, "pulling")
    assert faint(page, 7) == []
    seq = bench.press("40.2", "tester", "N·m")["seq"]
    expect(pull).to_be_hidden()
    expect(page.locator("#digits")).to_have_text("40.2")
    expect(page.locator("#stored")).to_have_text("Stored")
    bench.said(f"/v1/readings/{seq}/voids", reason="It waits in nobody's way.")


# stale, why --------------------------------------------------------------------------------------


def test_a_silent_gauges_last_reading_goes_stale(page: Page, bench: Bench) -> None:
    bench.build(LAND)
    bench.press("25.002")
    expect(page.locator("#age")).to_have_text("just now")
    expect(page.locator("#last")).to_have_attribute("data-stale", "no")
    state = bench.get("/v1/bench").json()
    mic = next(one for one in state["instruments"] if one["id"] == "mic")
    mic["port"] = "radio"
    state["devices"] = [{"instrument": "mic", "state": "silent", "detail": "", "at": AT,
                         "since": AT, "battery": None, "low_battery": False}]  # fmt: skip
    latest = next(one for one in state["latest"] if one["instrument"] == "mic")
    state["last"]["received_at"] = latest["received_at"] = AT
    state["at"] = "2026-01-05T10:23:40.000000Z"
    page.route("**/v1/bench", lambda route: route.fulfill(json=state))
    page.reload()
    tile = page.locator("#instruments li").filter(has_text="mic")
    expect(page.locator("#age")).to_have_text("Stale · 3 minutes ago")
    expect(page.locator("#stale")).to_contain_text("mic has no connection")
    expect(tile).to_contain_text("25.002 mm Stale · 3 minutes ago")
    for seen in (page.locator("#last"), tile.locator(".read-last")):
        assert seen.evaluate("node => getComputedStyle(node).borderStyle") == "dashed"
    expect(page.locator("#tools")).to_contain_text("silent since")
    expect(page.locator("#alive-not")).to_contain_text("mic silent since")
    assert faint(page, 7) == []
    picture(page, "stale")


def test_why_says_all_of_it_and_copies_it(page: Page, bench: Bench) -> None:
    bench.build(LAND)
    seq = bench.press("25.004")["seq"]
    expect(page.locator("#digits")).to_have_text("25.004")
    expect(page.locator("#placed")).to_contain_text("Piston land")
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.keyboard.press("w")
    panel = page.get_by_role("dialog", name=f"Why: reading {seq}")
    expect(panel).to_contain_text("25.004 mm, typed in")
    for said in ("24.990 to 25.010 mm", "guarded", "± 0.0012 mm, k = 2", "0.0012 mm",
                 "calibration ± 0.001 mm", "certificate invented, due 2099-12-31", "Piston land",
                 f"press {seq}, decision {seq + 1}"):  # fmt: skip
        expect(panel).to_contain_text(said)
    expect(panel.get_by_role("link")).to_have_attribute("href", f"/readings/{seq}")
    assert barriers(page) == []
    picture(page, "why")
    panel.get_by_role("button", name="Copy as text").click()
    expect(page.locator("#why-told")).to_have_text("Copied.")
    copied = page.evaluate("navigator.clipboard.readText()")
    assert copied.splitlines()[0] == f"Why: reading {seq}"
    assert f"Ledger entries: press {seq}, decision {seq + 1}" in copied.splitlines()
    # A page that came over plain HTTP from elsewhere gets no clipboard.
    page.evaluate("Object.defineProperty(navigator, 'clipboard', { value: undefined })")
    panel.get_by_role("button", name="Copy as text").click()
    expect(page.locator("#why-text")).to_have_value(copied)
    assert page.evaluate("getSelection().toString()") == copied
    page.keyboard.press("Escape")
    expect(panel).to_be_hidden()
    page.evaluate("""async () => {
        const { why } = await import("/static/why.js");
        // What the decision cites, whatever the bench has by now.
        const cited = {
            8: { cites: { instrument: 3, setting: 5 } },
            3: { kind: "bore-gauge", profile: "p", unit: "mm", calibration: null },
            5: { standard: "old ring", size: "80.000", unit: "mm" },
        };
        window.fetch = async (path) => new Response(JSON.stringify({
            body: cited[path.split("/entries/")[1]],
            seq: 7, raw: "2b302e3432380d0a", value: "0.428", unit: "mm", flags: [], typed: false,
            simulated: true, verdict: { result: "not_evaluated", notes: [] }, decided_by: "rule",
            placement: { reason: { code: "late", detail: "So." } }, instrument: "gone",
            received_at: "2026-01-05T10:20:30.000000Z", decision_seq: 8 }));
        await why(7);
    }""")
    expect(page.locator("#why-facts")).to_contain_text("2b 30 2e 34 32 38 0d 0a")
    expect(page.locator("#why-facts")).to_contain_text("+0.428··")
    expect(page.locator("#why-facts")).to_contain_text("old ring, 80.000 mm")


# mends -------------------------------------------------------------------------------------------


def test_what_waits_is_mended_with_one_key(page: Page, bench: Bench) -> None:
    build = bench.build(LAND)
    seq = bench.press("0.9843")["seq"]
    first = page.locator("#holds .first")
    expect(first).to_have_text("Take it as 0.9843 in")
    box = first.bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) >= 73
    assert box["y"] + box["height"] <= DESK["height"]
    picture(page, "mend")
    page.keyboard.press("a")
    expect(page.locator("#message")).to_contain_text("0.9843 mm is taken as 0.9843 in.")
    expect(page.locator("#waiting")).to_be_hidden()
    reading = bench.get(f"/v1/readings/{seq}").json()
    assert reading["corrected"] == {"digits": "0.9843", "unit": "in"}
    assert reading["placement"]["step"] == "measure-land/1"
    bench.press("250.01")
    expect(first).to_have_text("Take it as 25.001 mm")
    page.route("**/corrections", lambda route: route.abort())
    # What had this letter a moment ago was another reading's mend.
    page.keyboard.press("a")
    expect(page.locator("#message")).to_contain_text("Nothing that waits has the key A now.")
    page.keyboard.press(str(first.get_attribute("data-press")))
    expect(page.locator("#message")).to_contain_text("NOT DONE. The service did not answer.")
    page.unroute("**/corrections")
    page.get_by_role("button", name="Void", exact=True).click()
    expect(dialog(page).get_by_label("Reason")).to_be_focused()
    page.keyboard.press("ArrowDown")
    expect(dialog(page).get_by_label("Reason")).to_have_value("Typed wrong.")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    expect(page.locator("#waiting")).to_be_hidden()
    assert bench.next(build)["step"]["id"] == "measure-land/2"
    last = bench.press("25.002")["seq"]
    expect(page.locator("#digits")).to_have_text("25.002")
    page.keyboard.press("v")
    dialog(page).get_by_role("button", name="The gauge was not rocked.").click()  # one touch
    expect(page.locator("#placed")).to_have_text("The gauge was not rocked.")
    assert bench.get(f"/v1/readings/{last}").json()["decided_by"] == "person"


# how it is seen ----------------------------------------------------------------------------------


def test_every_text_is_seen_in_light_and_dark(page: Page, bench: Bench) -> None:
    bench.build(LAND)
    bench.press("25.030")
    bench.press("0.9843")
    expect(page.locator("#holds li")).to_have_count(2)
    for colours in ("light", "dark"):
        page.locator("#menu summary").click()
        page.locator("#colours").click()
        expect(page.locator("html")).to_have_attribute("data-colours", colours)
        assert faint(page, 7) == []
        picture(page, f"menu-{colours}")
        page.keyboard.press("Escape")
        expect(page.locator("#colours")).to_be_hidden()
        assert faint(page, 7) == []
        page.locator("#holds li").last.get_by_role("button", name="Settle").click()
        assert faint(page, 7) == []
        picture(page, f"settle-{colours}")
        page.keyboard.press("Escape")
    page.reload()  # the browser keeps it
    expect(page.locator("html")).to_have_attribute("data-colours", "dark")
    moving = """() => [...document.querySelectorAll("*")].filter((node) => {
        const style = getComputedStyle(node);
        return style.animationName !== "none" || style.transitionDuration !== "0s";
    }).length"""
    assert page.evaluate(moving) == 0, "nothing on the page moves, so nothing flashes"
    page.locator("#holds li").first.get_by_role("button", name="Void").click()
    expect(dialog(page)).not_to_contain_text("SEND")  # nobody pressed it
    dialog(page).get_by_role("button", name="Typed wrong.").click()
    expect(page.locator("#holds li")).to_have_count(1)


def test_all_of_it_in_german_on_a_tablet_and_a_phone(page: Page, bench: Bench) -> None:
    bench.build(GAP)
    bench.press("25.030")
    page.goto(f"{bench.base_url}/?language=de")
    expect(page.locator("#next-label")).to_have_text("Als Nächstes: messen")
    expect(page.locator("#placed")).to_contain_text("Ein Messmittel anderer Art ist verlangt")
    expect(page.locator("#stored")).to_have_text("Gespeichert")
    picture(page, "deutsch")
    for size in ({"width": 1024, "height": 768}, PHONE):
        page.set_viewport_size(size)  # type: ignore[arg-type]  # a plain dict will do
        page.get_by_role("button", name="Die zwei Werte eingeben").click()
        expect(dialog(page)).to_contain_text("Welches Blatt geht hinein?")
        page.keyboard.press("Escape")
        page.get_by_role("button", name="Warum").click()
        expect(page.locator("#why-facts")).to_contain_text("Entschieden durch")
        page.keyboard.press("Escape")
        assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
        assert barriers(page) == []
        picture(page, f"deutsch-{size['width']}")


def test_a_service_that_is_not_heard_makes_all_of_it_stale(page: Page, bench: Bench) -> None:
    bench.build(LAND)
    bench.press("25.003")
    expect(page.locator("#last")).to_have_attribute("data-stale", "no")
    page.add_init_script("delete window.SharedWorker")  # whose requests no test can cut
    page.route("**/v1/events*", lambda route: route.abort())
    page.reload()
    expect(page.locator("#stale")).to_contain_text("The service is not heard")
    expect(page.locator("#last")).to_have_attribute("data-stale", "yes")
