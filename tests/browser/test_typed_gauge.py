"""A gauge that types into the page, told from a person by its speed; all of it invented."""

from __future__ import annotations

import json
from typing import Any

import httpx
import pytest
from playwright.sync_api import BrowserContext, Page, Route, expect

from tests.browser.hands import dialog
from tests.browser.seen import barriers, picture
from tests.browser.test_bench_page import open_build
from tests.support import eventually

PATIENT = {"gap": 3000, "slack": 100, "torn": 3000}
"""In ms: a loaded computer may let seconds pass between two keys that a test sends at once. The
pace as shipped is tried on a clock of its own."""
NEVER_TORN = {**PATIENT, "torn": 0}


def kept(bench: httpx.Client, name: str) -> str:
    return f"witnessmark {bench.get('/v1/health').json()['bench']} {name}"


def keep(page: Page, bench: httpx.Client, **what: Any) -> None:
    """Puts into the browser what it keeps for this bench, as the page does, and opens it anew."""
    for name, value in what.items():
        page.evaluate(
            "([name, text]) => localStorage.setItem(name, text)",
            [kept(bench, name), json.dumps(value)],
        )
    page.reload()
    expect(page.locator("#line")).to_have_text("Live")


def types(page: Page, text: str) -> None:
    """As a machine does."""
    page.keyboard.type(text, delay=2)
    page.keyboard.press("Enter")


def stored(bench: httpx.Client) -> list[str]:
    found = bench.get("/v1/readings").json()["readings"]
    return [f"{one['value']} {one['unit']}" for one in found]


@pytest.fixture
def typing(page: Page, bench: httpx.Client) -> Page:
    """A page that mic-1 types into."""
    open_build(bench)
    keep(page, bench, types="mic-1", pace=NEVER_TORN)
    return page


# telling a machine from a person -----------------------------------------------------------------

CLOCK = """async (cases) => {
    const { Typing } = await import("/static/typing.js");
    const made = (heard, alone) => {
    const clock = {
        time: 0, due: null,
        now() { return this.time; },
        after(ms, act) { this.due = { at: this.time + ms, act }; return 1; },
        stop() { this.due = null; },
        to(time) {
            while (this.due && this.due.at <= time) {
                const { at, act } = this.due;
                [this.time, this.due] = [at, null];
                act();
            }
            this.time = time;
        },
    };
    const text = (keys) => keys.map((one) => one.key).join("");
    const typing = new Typing({
        machine: ({ text, torn }) => heard.push([torn ? "torn" : "machine", text]),
        person: (keys) => heard.push(["person", text(keys)]),
        slow: (text) => { heard.push(["slow", text]); return alone && text.length > 1; },
        clock,
    });
    return { typing, clock };
    };
    return cases.map(([keys, alone]) => {
        const heard = [];
        const { typing, clock } = made(heard, alone);
        for (const [key, at] of keys) {
            clock.to(at);
            const stroke = { key, code: key, at, alone };
            if (key !== "Enter") typing.press(stroke);
            else if (!typing.end(stroke)) heard.push(["page", key]);
        }
        clock.to(clock.time + 1000);
        return heard;
    });
}"""


def timed(text: str, gap: int, start: int = 1000) -> list[tuple[str, int]]:
    """The keys of a text and an Enter, so many ms apart."""
    return [(key, start + at * gap) for at, key in enumerate([*text, "Enter"])]


SPEEDS: list[tuple[list[tuple[str, int]], list[list[str]]]] = [
    (timed("12.345", 2), [["machine", "12.345"]]),
    (timed("12.345", 50), [["machine", "12.345"]]),
    (timed("0.1", 30), [["machine", "0.1"]]),
    (timed("12", 30), [["machine", "12"]]),
    (timed("7", 30), [["person", "7Enter"]]),
    ([("b", 1000)], [["person", "b"]]),
    ([("Enter", 1000)], [["page", "Enter"]]),
    (timed("12", 400), [["person", "1"], ["person", "2"], ["page", "Enter"]]),
    (timed("123", 51), [*(["person", one] for one in "123"), ["slow", "123"], ["page", "Enter"]]),
    # A second message, and a second Enter, close behind the first.
    (timed("1.5", 5) + timed("2.5", 5, 1030), [["machine", "1.5"], ["machine", "2.5"]]),
    ([*timed("1.5", 5), ("Enter", 1030)], [["machine", "1.5"]]),
    # It stuttered: half a message is none.
    ([("1", 900), *timed("2.345", 2)], [["person", "1"], ["torn", "12.345"]]),
    # Somebody had typed a while before.
    ([("1", 500), *timed("2.345", 2)], [["person", "1"], ["machine", "2.345"]]),
    # Its Enter came late: it must not send what is in a field.
    ([*timed("12.345", 5)[:-1], ("Enter", 1110)], [["person", "12.345"], ["slow", "12.345"]]),
    # Fingers that roll over two keys and Enter amid typing.
    ([("4", 900), *timed("25", 40)], [["person", "4"], ["person", "25Enter"]]),
]


# In no field, where a letter alone is a key of the page.
ALONE: list[tuple[list[tuple[str, int]], list[list[str]]]] = [
    (timed("OP-0018", 2), [["machine", "OP-0018"]]),
    # A slow scanner's are no keys, and its Enter is kept from the page.
    (timed("OP-0018", 70), [["person", "OP-0018Enter"]]),
    (timed("OP-0018", 140), [["person", "OP-0018Enter"]]),
    # Its Enter came late.
    ([*timed("OP-18", 2)[:-1], ("Enter", 1170)], [["person", "OP-18"], ["slow", "OP-18"]]),
    # It stuttered, and only the end of it came with the Enter.
    (
        [*timed("OP-00", 2)[:-1], *timed("18", 2, 1200)],
        [["person", "OP-00"], ["torn", "OP-0018"]],
    ),
    ([("u", 1000), ("Enter", 1100)], [["person", "uEnter"]]),
    ([("u", 1000), ("Enter", 1200)], [["person", "u"], ["slow", "u"], ["page", "Enter"]]),
    ([("u", 1000), ("v", 1200)], [["person", "u"], ["person", "v"]]),
]


def test_a_machine_is_told_by_its_speed(page: Page) -> None:
    cases = [
        *((keys, False, heard) for keys, heard in SPEEDS),
        *((keys, True, heard) for keys, heard in ALONE),
    ]
    found = page.evaluate(CLOCK, [[keys, alone] for keys, alone, _ in cases])
    assert found == [heard for _, _, heard in cases]


TYPED = [
    ("25.003", "25.003", None),
    ("  +025,003 mm ", "025.003", "mm"),
    ("-0.012", "-0.012", None),
    ("0.012-", "-0.012", None),
    ("0,012 - mm", "-0.012", "mm"),
    ("−1.5", "-1.5", None),
    (".984in", "0.984", "in"),
    ("5.", "5", None),
    ("12.5 N·m", "12.5", "N·m"),
    ("-1.5-", None, None),
    ("1,234.5", None, None),
    ("A 12.5", None, None),
    ("12.5 13.5", None, None),
    ("1.2e-3", None, None),
    ("Err", None, None),
    ("-", None, None),
    ("", None, None),
]


def test_what_was_typed_is_understood_or_refused(page: Page) -> None:
    script = """async (texts) => {
        const { understood } = await import("/static/gaugetext.js");
        return texts.map(understood);
    }"""
    wanted = [value and {"value": value, "unit": unit} for _, value, unit in TYPED]
    assert page.evaluate(script, [text for text, _, _ in TYPED]) == wanted


# readings ----------------------------------------------------------------------------------------


def test_it_is_assigned_shown_and_taken_back(page: Page, bench: httpx.Client) -> None:
    open_build(bench)
    tile = page.locator("#instruments").get_by_role("button", name="mic-1")
    tile.click()
    page.get_by_role("button", name="It types: take what it types").click()
    expect(dialog(page)).to_contain_text("taken in mm")
    picture(page, "types-dialog")
    assert barriers(page) == []
    page.get_by_role("button", name="It types here").click()
    expect(page.locator("#keys")).to_have_text("mic-1 types into this page")
    expect(tile).to_contain_text("Types into this page")
    keep(page, bench, pace=NEVER_TORN)
    types(page, "25.003")
    expect(page.locator("#digits")).to_have_text("25.003")
    expect(page.locator("#last-facts")).to_contain_text("mic-1 (simulated) (typed)")
    page.get_by_role("button", name="Gauges that type, pedals").click()
    picture(page, "keyed-dialog")
    assert barriers(page) == []
    page.get_by_role("button", name="mic-1 no longer types").click()
    expect(page.locator("#keys li")).to_have_count(0)
    types(page, "25.004")
    types(page, "25.005")
    expect(page.locator("#loud")).to_be_hidden()
    assert stored(bench) == ["25.003 mm"]


def test_at_the_pace_as_shipped(page: Page, bench: httpx.Client) -> None:
    """A loaded computer may tear a message: that is said, and sent again by a person."""
    open_build(bench)
    keep(page, bench, types="mic-1")

    def came() -> bool:
        types(page, "25.003")
        expect(page.locator("#digits, #loud-text").get_by_text("25.003").first).to_be_visible()
        return bool(stored(bench))

    eventually(came, "a reading typed at a machine's speed is stored")
    assert set(stored(bench)) == {"25.003 mm"}


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("24,998", "24.998 mm"),
        ("0.984in", "0.984 in"),
        ("0.012 mm 3", None),
        ("1.500-", "-1.500 mm"),
    ],
)
def test_it_lands_in_no_field(
    typing: Page, bench: httpx.Client, typed: str, found: str | None
) -> None:
    seq = bench.post(
        "/v1/readings", json={"instrument": "mic-1", "value": "25.000", "unit": "mm"}
    ).json()["seq"]
    expect(typing.locator("#digits")).to_have_text("25.000")
    typing.get_by_role("button", name="Void this reading").click()
    reason = dialog(typing).get_by_label("Reason")
    expect(reason).to_be_focused()
    types(typing, typed)
    if found is None:
        expect(typing.locator("#loud")).to_contain_text(f"NOT STORED: “{typed}”")
    else:
        eventually(lambda: found in stored(bench), "the reading is stored")
    expect(reason).to_have_value("")
    expect(dialog(typing)).to_be_visible()
    assert bench.get(f"/v1/readings/{seq}").json()["decided_by"] == "rule"


def test_a_persons_typing_is_untouched(page: Page, bench: httpx.Client) -> None:
    open_build(bench)
    keep(page, bench, types="mic-1")
    for value in ("24.998", "24.997"):
        page.get_by_role("button", name="Type a reading in").click()
        expect(dialog(page).get_by_label("Reading")).to_be_focused()
        page.keyboard.type(f"{value}9", delay=150)
        page.keyboard.press("Backspace")
        expect(dialog(page).get_by_label("Reading")).to_have_value(value)
        page.keyboard.press("Enter")
        expect(page.locator("#digits")).to_have_text(value)
    expect(page.locator("#loud")).to_be_hidden()
    assert stored(bench) == ["24.998 mm", "24.997 mm"]


def test_what_a_person_presses_does_what_it_did(typing: Page, bench: httpx.Client) -> None:
    """A key of the page's own fires for a person and never for a machine; buttons the same."""
    for value in ("25.000", "25.001", "25.000", "25.001"):
        bench.post("/v1/readings", json={"instrument": "mic-1", "value": value, "unit": "mm"})
    typing.evaluate(
        "() => { window.fired = []; addEventListener('keydown', (e) => fired.push(e.key)); }"
    )
    confirm = typing.get_by_role("button", name="Confirm")
    confirm.focus()
    types(typing, " 25.002")
    eventually(lambda: "25.002 mm" in stored(bench), "the reading is stored")
    expect(confirm).to_be_visible()
    assert typing.evaluate("window.fired") == []
    typing.keyboard.press("5")
    eventually(lambda: typing.evaluate("window.fired") == ["5"], "the key is done again")
    confirm.focus()
    typing.keyboard.press(" ")
    expect(typing.locator("#next-title")).to_have_text("Every step is done")


def test_what_cannot_be_read_is_said_loudly(typing: Page, bench: httpx.Client) -> None:
    types(typing, "Err 01")
    expect(typing.locator("#loud")).to_contain_text("NOT STORED: “Err 01”. This is no reading.")
    picture(typing, "typed-not-stored")
    assert barriers(typing) == []
    types(typing, "25.000 furlongs")
    expect(typing.locator("#loud")).to_contain_text("NOT STORED: “25.000 furlongs from mic-1”")
    expect(typing.locator("#loud")).to_contain_text("furlongs")
    typing.get_by_role("button", name="Seen").click()
    expect(typing.locator("#loud")).to_be_hidden()
    typing.keyboard.type("25.0", delay=2)  # and no Enter
    expect(typing.locator("#loud")).to_contain_text("No Enter came behind it", timeout=15_000)
    assert stored(bench) == []


# a lost connection -------------------------------------------------------------------------------


def test_it_waits_offline_and_is_stored_once_and_in_order(
    typing: Page, bench: httpx.Client
) -> None:
    context: BrowserContext = typing.context
    context.set_offline(True)
    types(typing, "25.001")
    expect(typing.locator("#loud")).to_contain_text("NOT STORED YET: 25.001 mm from mic-1 waits")
    types(typing, "25.002")
    expect(typing.locator("#loud")).to_contain_text("2 typed readings wait")
    picture(typing, "typed-waits")
    assert stored(bench) == []
    context.set_offline(False)
    expect(typing.locator("#loud")).to_be_hidden(timeout=20_000)
    assert stored(bench) == ["25.001 mm", "25.002 mm"]


def test_an_answer_that_is_lost_doubles_nothing_even_over_a_reload(
    typing: Page, bench: httpx.Client
) -> None:
    sent: list[str] = []

    def lost(route: Route) -> None:
        sent.append(route.request.headers["idempotency-key"])
        route.fetch()  # the service has it; the page never hears
        route.abort()

    typing.route("**/v1/readings", lost)
    types(typing, "25.001")
    expect(typing.locator("#loud")).to_contain_text("NOT STORED YET")
    typing.unroute("**/v1/readings")
    typing.reload()
    waits = f"JSON.parse(localStorage.getItem({json.dumps(kept(bench, 'outbox'))})).length"
    eventually(lambda: typing.evaluate(waits) == 0, "nothing waits any more")
    expect(typing.locator("#loud")).to_be_hidden()
    assert len(set(sent)) == 1
    assert stored(bench) == ["25.001 mm"]


def test_a_store_in_trouble_is_asked_again_under_the_same_key(
    typing: Page, bench: httpx.Client
) -> None:
    keys: list[str] = []

    def troubled(route: Route) -> None:
        keys.append(route.request.headers["idempotency-key"])
        problem = {"title": "Not stored", "detail": "The disk is full."}
        if len(keys) < 3:
            route.fulfill(status=503, json=problem, content_type="application/problem+json")
        else:
            route.continue_()

    typing.route("**/v1/readings", troubled)
    types(typing, "25.001")
    expect(typing.locator("#digits")).to_have_text("25.001", timeout=20_000)
    assert stored(bench) == ["25.001 mm"]
    assert len(keys) == 3
    assert len(set(keys)) == 1
