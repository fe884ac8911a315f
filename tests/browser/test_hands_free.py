"""The bench page without a mouse: begin of the shift, what is spoken, keys, and who is there.
Everything in it is invented."""

from __future__ import annotations

import json
from collections.abc import Iterator

import httpx
import pytest
from playwright.sync_api import Page, expect

from tests.browser.engine import STUDY, TOP
from tests.browser.hands import dialog, keys
from tests.browser.seen import barriers, picture
from tests.browser.test_bench_page import open_build, press
from tests.browser.test_typed_gauge import NEVER_TORN, keep, types
from tests.browser.voices import VOICES, spoken
from tests.running import BENCH
from tests.served import served
from tests.support import eventually

OPERATORS = """
[[operator]]
name = "early shift"
badge = "OP-0017"

[[operator]]
name = "late shift"
"""


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[httpx.Client]:
    folder = tmp_path_factory.mktemp("hands-free")
    (folder / "bench.toml").write_text(BENCH + OPERATORS, "utf-8")
    # A connection that a test opened must not outlive it.
    limits = httpx.Limits(max_keepalive_connections=0)
    with served(folder) as up, httpx.Client(base_url=up["url"], timeout=30, limits=limits) as http:
        open_build(http)
        yield http


# begin of the shift ------------------------------------------------------------------------------


def test_one_touch_begins_the_shift_and_says_what_is_missing(
    page: Page, bench: httpx.Client
) -> None:
    begin = page.get_by_role("button", name="Begin the shift")
    expect(begin).to_be_visible()
    expect(page.locator("#next-title")).not_to_be_empty()
    expect(page.locator("#tone")).to_be_hidden()
    box = begin.bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) >= 73
    picture(page, "before-the-shift")
    assert barriers(page) == []
    page.keyboard.press("s")
    missing = page.locator("#missing")
    expect(missing).to_be_visible(timeout=15_000)
    # Headless Chromium has no voice.
    expect(missing.locator("li")).to_have_count(1)
    expect(missing).to_contain_text("no voice for English")
    expect(page.locator("#message")).to_contain_text("Missing: Voice")
    expect(page.locator("#tone")).to_have_text("Tone on")
    expect(page.locator("#voice")).to_have_text("No voice")
    expect(page.locator("#awake")).to_have_text("Screen awake")
    expect(begin).to_be_hidden()
    picture(page, "shift-missing")
    assert barriers(page) == []
    page.keyboard.press("Enter")
    expect(missing).to_be_hidden()
    page.reload()
    page.keyboard.press("s")
    expect(page.locator("#message")).to_contain_text("Missing: Voice", timeout=15_000)
    expect(missing).to_be_hidden()  # known, and gone on without
    page.get_by_role("button", name="Tone on").click()
    expect(page.locator("#tone")).to_have_text("Tone off")
    picture(page, "shift")
    page.get_by_role("button", name="Tone off").click()
    expect(page.locator("#tone")).to_have_text("Tone on")
    # Two pages of one browser do not sound at once.
    other = page.context.new_page()
    other.goto(str(bench.base_url))
    other.get_by_role("button", name="Begin the shift").click()
    expect(page.locator("#tone")).to_have_text("Tone off")
    expect(page.locator("#message")).to_contain_text("Another page of this browser speaks")
    expect(other.locator("#tone")).to_have_text("Tone on", timeout=15_000)


def test_verdict_next_step_and_cautions_are_spoken(page: Page, bench: httpx.Client) -> None:
    open_build(bench)
    page.add_init_script(VOICES)
    page.reload()
    expect(page.locator("#line")).to_have_text("Live")
    press(bench, "25.000")
    expect(page.locator("#digits")).to_have_text("25.000")
    assert spoken(page) == []
    assert page.evaluate("pulses") == 0
    page.keyboard.press("s")
    expect(page.locator("#voice")).to_have_text("Voice on")
    eventually(lambda: "Support the sleeve: it rolls." in page.evaluate("spoken"), "the caution")
    said = spoken(page)
    assert said[0] == "The voice is on."
    assert "Next: Measure. Sleeve diameter, Sleeve 1, bottom. With micrometer." in said
    press(bench, "25.030")
    expect(page.locator("#digits")).to_have_text("25.030")
    eventually(lambda: "Sleeve 2" in " ".join(page.evaluate("spoken")), "the next step")
    verdict, following = spoken(page)
    assert verdict.startswith("25 point 0 3 0 millimetres. Nonconforming. Above the upper limit")
    assert following == "Next: Measure. Sleeve diameter, Sleeve 2, top. With micrometer."
    assert page.evaluate("pulses") == 1 + 5  # the proof, and nonconforming
    page.keyboard.press("r")
    eventually(lambda: len(page.evaluate("spoken")) == 2, "both again")
    assert spoken(page) == [verdict, following]
    page.get_by_role("button", name="Voice on").click()
    press(bench, "25.001")
    expect(page.locator("#digits")).to_have_text("25.001")
    assert spoken(page) == []


def test_a_study_stays_blind_for_the_ear(page: Page, bench: httpx.Client) -> None:
    page.add_init_script(VOICES)
    page.reload()
    expect(page.locator("#line")).to_have_text("Live")
    spec = bench.post("/v1/specs", content=(TOP + STUDY).encode()).raise_for_status().json()["id"]
    bench.post("/v1/builds", json={"spec": spec, "title": "Study"}).raise_for_status()
    page.keyboard.press("s")
    expect(page.locator("#voice")).to_have_text("Voice on")
    eventually(lambda: "Gauge study" in " ".join(page.evaluate("spoken")), "the next step")
    spoken(page)
    assert "reason" not in press(bench, "25.001")["placement"]
    eventually(lambda: len(page.evaluate("spoken")) == 2, "taken, and the next step")
    taken, following = spoken(page)
    assert taken == "Taken."
    assert "25" not in following
    assert page.evaluate("pulses") == 1 + 2


def test_not_stored_is_said_as_soon_as_there_is_a_voice(page: Page, bench: httpx.Client) -> None:
    trouble = {"state": "not_storing", "detail": "The disk is full.", "held": 2, "since": None}
    state = {**bench.get("/v1/bench").json(), "condition": trouble}
    page.add_init_script(VOICES + "delete window.SharedWorker;")
    page.route("**/v1/bench", lambda route: route.fulfill(json=state))
    body = f"event: condition\ndata: {json.dumps(trouble)}\n\n"
    page.route(
        "**/v1/events*",
        lambda route: route.fulfill(content_type="text/event-stream", body=body),
    )
    page.reload()
    expect(page.locator("#alarm")).to_contain_text("NOT STORED")
    page.keyboard.press("s")
    loud = "NOT STORED. 2 readings are held in memory. The disk is full."
    eventually(lambda: loud in " ".join(page.evaluate("spoken")), "it is said")
    assert page.evaluate("pulses") >= 4


# keys and operators ------------------------------------------------------------------------------


def test_single_keys_press_the_buttons_of_the_page(page: Page, bench: httpx.Client) -> None:
    open_build(bench)
    seq = press(bench, "0.9840")["seq"]
    expect(page.locator("#holds")).to_contain_text("The unit may be mistaken")
    page.keyboard.press("a")
    expect(page.locator("#message")).to_contain_text("0.9840 in")
    assert bench.get(f"/v1/readings/{seq}").json()["corrected"]["unit"] == "in"
    page.keyboard.press("k")
    panel = page.locator("#keys-panel")
    expect(panel.get_by_text("Void the last reading")).to_be_visible()
    page.locator("#tones-panel summary").click()
    page.get_by_role("button", name="Undecided").click()
    expect(page.locator("#message")).to_contain_text("The tone is off")
    picture(page, "keys")
    assert barriers(page) == []
    page.keyboard.press("v")
    expect(dialog(page)).to_contain_text("Void this reading")
    # In a field a letter is a letter.
    page.keyboard.type("kuvs", delay=150)
    expect(dialog(page).get_by_label("Reason")).to_have_value("kuvs")
    page.keyboard.press("Escape")
    page.keyboard.press("t")
    expect(dialog(page)).to_contain_text("Type a reading in")
    page.keyboard.press("Escape")
    page.keyboard.press("y")
    expect(page.locator("#message")).to_contain_text("NOT DONE. Not to be done now: Confirm")
    # A gauge that nobody chose presses neither a key nor the button that has the focus.
    page.locator("#who").focus()
    before = bench.get("/v1/health").json()["size"]
    keep(page, bench, pace=NEVER_TORN)
    page.locator("#who").focus()
    types(page, "25.003mm v")
    expect(page.locator("#message")).to_contain_text("NOT STORED: “25.003mm v”")
    expect(dialog(page)).to_be_hidden()
    assert bench.get("/v1/health").json()["size"] == before
    keep(page, bench, pace={})
    page.keyboard.press("k")
    panel.get_by_label("Single keys are on").uncheck()
    page.locator("h1").first.click()
    page.keyboard.press("v")
    page.keyboard.press("ArrowDown")
    expect(dialog(page)).to_be_hidden()
    panel.get_by_label("Single keys are on").check()


def test_another_open_step_by_keys_alone(page: Page, bench: httpx.Client) -> None:
    open_build(bench)
    where = page.locator("#next-where")
    expect(where).to_have_text("Sleeve 1 · top")
    page.keyboard.press("o")
    expect(dialog(page)).to_contain_text("Sleeve diameter (4 places)")
    page.keyboard.press("Enter")
    expect(dialog(page)).to_contain_text("Which of its open steps comes next")
    picture(page, "choose")
    keys(page, "ArrowDown", "ArrowDown", "ArrowDown", "Enter")
    expect(where).to_have_text("Sleeve 2 · bottom")
    expect(page.locator("#message")).to_contain_text("Next: Sleeve diameter")
    expect(dialog(page)).to_be_hidden()
    page.keyboard.press("o")
    dialog(page).get_by_role("button", name="Back to the order of work").click()
    expect(where).to_have_text("Sleeve 1 · top")


def test_who_is_at_the_bench_by_choice_by_name_and_by_badge(
    page: Page, bench: httpx.Client
) -> None:
    who = page.locator("#who")
    page.keyboard.press("u")
    expect(dialog(page)).to_contain_text("Goes into every entry from now on")
    picture(page, "who")
    assert barriers(page) == []
    dialog(page).get_by_role("button", name="late shift").click()
    expect(who).to_have_text("At the bench: late shift")
    expect(page.locator("#message")).to_contain_text("At the bench: late shift.")
    assert press(bench, "0.9")["operator"] == "late shift"
    keep(page, bench, pace=NEVER_TORN)
    types(page, "OP-0017")
    expect(who).to_have_text("At the bench: early shift")
    assert bench.get("/v1/bench").json()["operator"] == "early shift"
    types(page, "OP-0018")
    expect(page.locator("#message")).to_contain_text("belongs to nobody named in bench.toml")
    # The open question takes a scan, and its Enter presses no name: neither fast nor slow nor late.
    keep(page, bench, pace={"alone": 3000})
    who.click()
    expect(dialog(page).locator("#ask-label")).to_be_focused()
    for pause in (0, 60):
        page.keyboard.type("OP-0018", delay=pause)
        page.keyboard.press("Enter")
        problem = page.locator("#ask-problem")
        expect(problem).to_contain_text("belongs to nobody named in bench.toml")
        problem.evaluate("(node) => { node.textContent = ''; }")
    assert bench.get("/v1/bench").json()["operator"] == "early shift"
    page.keyboard.type("OP-0017", delay=60)
    page.keyboard.press("Enter")
    expect(dialog(page)).to_be_hidden()
    expect(page.locator("#message")).to_contain_text("At the bench: early shift.")
    # A slow scanner works none of the page's keys: O is one, and P.
    page.keyboard.type("OP-0018", delay=60)
    page.keyboard.press("Enter")
    expect(page.locator("#message")).to_contain_text("“OP-0018” was typed by a machine")
    expect(dialog(page)).to_be_hidden()
    page.keyboard.type("ov", delay=5)
    expect(page.locator("#message")).to_contain_text("“ov” came at once", timeout=15_000)
    expect(dialog(page)).to_be_hidden()
    # A badge is a badge in a field too, and where a gauge types.
    keep(page, bench, types="mic-1", pace=NEVER_TORN)
    who.click()
    dialog(page).get_by_role("button", name="Another name").click()
    name = dialog(page).get_by_label("Name or initials")
    name.fill("")
    types(page, "OP-0017")
    expect(page.locator("#message")).to_contain_text("At the bench: early shift.")
    expect(dialog(page)).to_be_hidden()
    who.click()
    dialog(page).get_by_role("button", name="Another name").click()
    expect(name).to_have_value("early shift")
    name.fill("third shift")
    dialog(page).get_by_role("button", name="At the bench from now on").click()
    expect(who).to_have_text("At the bench: third shift")
    assert bench.get("/v1/bench").json()["operator"] == "third shift"
