"""Tones, voice and a screen that stays awake, each by itself: what is planned, in which words, and
for how long. All of it is invented."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import httpx
import numpy as np
import pytest
from playwright.sync_api import Page

from tests.browser.voices import alone, module, spoken
from tests.served import served
from tests.support import eventually


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[httpx.Client]:
    folder = tmp_path_factory.mktemp("voice")
    with served(folder) as up, httpx.Client(base_url=up["url"], timeout=30) as http:
        yield http


# tones -------------------------------------------------------------------------------------------


def test_tones_differ_in_rhythm_and_none_goes_on(page: Page) -> None:
    """500 to 3000 Hz with harmonics, told apart by the number and spacing of pulses, and never
    continuous: common practice, no source. Read from the plan of each tone."""
    script = module("rhythms", "return [it.HARMONICS, it.names().map((n) => [n, it.pulses(n)])]")
    harmonics, tones = page.evaluate(script)
    assert len(harmonics) > 1
    rhythms: dict[str, tuple[int, list[float]]] = {}
    for name, pulses in tones:
        assert 1 <= len(pulses) <= 6, name
        for one in pulses:
            assert one["pitch"] >= 500, name
            assert one["pitch"] * len(harmonics) <= 3000, name
            assert 0.05 <= one["length"] <= 0.5, name
        assert pulses[-1]["at"] + pulses[-1]["length"] <= 2.5, name
        spacing = [b["at"] - a["at"] for a, b in pairwise(pulses)]
        for gap, one in zip(spacing, pulses, strict=False):
            assert gap - one["length"] >= 0.05, f"{name}: its pulses run together"
        rhythms[name] = len(pulses), spacing
    for name, (count, spacing) in rhythms.items():
        for other, (others, theirs) in rhythms.items():
            if name == other or count != others:
                continue
            apart = max(max(a / b, b / a) for a, b in zip(spacing, theirs, strict=True))
            assert apart >= 1.5, f"{name} and {other} sound alike"


def test_a_tone_as_it_sounds(page: Page) -> None:
    """Rendered by the browser's own audio, looked at by numpy's Fourier transform."""
    rate = 48_000
    script = module(
        "tone",
        """
        const on = new OfflineAudioContext(1, given, given);
        it.sound(on, "nonconforming", 0);
        return Array.from((await on.startRendering()).getChannelData(0));
        """,
    )
    wave = np.array(page.evaluate(script, rate))
    loud = np.abs(wave) > 0.05
    # From silence to sound, with what is not heard as silence (5 ms) bridged.
    window = rate // 200
    heard = np.convolve(loud, np.ones(window), "same") > 0
    assert np.count_nonzero(np.diff(heard.astype(int)) == 1) + int(heard[0]) == 5
    assert not heard[-1]
    strength = np.abs(np.fft.rfft(wave))
    pitch = 520
    bands = [strength[int(pitch * n * 0.9) : int(pitch * n * 1.1)].max() for n in (1, 2, 3)]
    assert bands[1] > 0.3 * bands[0]
    assert bands[2] > 0.2 * bands[0]
    outside = np.concatenate([strength[:300], strength[3000:]]).max()
    assert outside < 0.1 * bands[0]


# voice -------------------------------------------------------------------------------------------

SPELLED = [
    ("25.003 mm from mic-1.5", "25 point 0 0 3 millimetres from mic-1.5"),
    ("void: −0.010 mm.", "void: minus 0 point 0 1 0 millimetres."),
    ("24.990 to 25.010 in; 2 of 5", "24 point 9 9 0 to 25 point 0 1 0 inches; 2 of 5"),
    ("12 N·m, b31, v1.2.3", "12 newton metres, b31, v1.2.3"),
    ("Take it as 0.5 furlong", "Take it as 0 point 5 furlong"),
]


def reading(result: str, measured: str = "25.000", **more: Any) -> dict[str, Any]:
    return {
        "value": measured, "unit": "mm", "zero": None, "bracket": None, "corrected": None,
        "placement": {"kind": "measure", "step": "measure-diameter/1/top"},
        "verdict": {
            "result": result, "measured": measured,
            "lower": "24.990", "upper": "25.010", "unit": "mm",
        },
        **more,
    }  # fmt: skip


STRAY = {"reason": {"code": "no-open-step", "detail": "…"}}
VERDICTS: list[tuple[dict[str, Any], str]] = [
    (reading("conforming"), "25 point 0 0 0 millimetres. Conforming."),
    (
        reading("nonconforming", "25.030"),
        "25 point 0 3 0 millimetres. Nonconforming. "
        "Above the upper limit, 25 point 0 1 0 millimetres.",
    ),
    (
        reading("nonconforming", "24.980"),
        "24 point 9 8 0 millimetres. Nonconforming. "
        "Below the lower limit, 24 point 9 9 0 millimetres.",
    ),
    (
        reading(
            "nonconforming",
            "0.31",
            verdict={
                "result": "nonconforming",
                "measured": "0.31",
                "lower": "0.344055866042",
                "upper": None,
                "unit": "mm",
            },
        ),
        "0 point 3 1 millimetres. Nonconforming. "
        "Below the lower limit, 0 point 3 4 4 1 millimetres.",
    ),
    (
        reading("not_evaluated", placement=STRAY),
        "25 point 0 0 0 millimetres. Not evaluated. No step is open.",
    ),
    (
        reading("conforming", bracket={"lower": "0.40", "upper": "0.45"}),
        "between 0 point 4 0 and 0 point 4 5 millimetres. Conforming.",
    ),
    # The next in a study must not hear what this one was.
    (reading("not_evaluated", placement={"kind": "study", "step": "study/1/A-1"}), "Taken."),
]


def test_sentences_say_digits_as_sent(page: Page, bench: httpx.Client) -> None:
    script = module("spell", "return given.map(it.spelled)")
    assert page.evaluate(script, [text for text, _ in SPELLED]) == [said for _, said in SPELLED]
    script = module(
        "sentences",
        """
        const { outcome } = await import("/static/last.js");
        return given.map((one) => it.verdict(one, outcome(one)).join(" "));
        """,
    )
    found = page.evaluate(script, [one for one, _ in VERDICTS])
    assert found == [said for _, said in VERDICTS]
    page.goto(f"{bench.base_url}/?language=de")
    german = page.evaluate(script, [one for one, _ in VERDICTS[:1]])
    assert german == ["25 Komma 0 0 0 Millimeter. Konform."]


QUEUE = """
    spoken.length = 0;
    ends = true;
    await it.enable("proof");
    ends = false;
    const gone = [];
    it.say("verdict", ["one", "two"]);
    it.say("next", ["three", { text: "care", topic: "caution", gone: () => gone.push("care") }]);
    it.say("verdict", ["four"]);
    it.say("next", Array.from({ length: 30 }, (_, at) => `n${at}`));
    // What was never heard to its end is given up after a time.
    await given;
    return [spoken, gone];
"""


def test_the_newest_wins_and_few_wait(page: Page) -> None:
    alone(page)
    said, gone = page.evaluate(module("speech", QUEUE))
    assert said == ["proof", "one", "four"]
    assert gone == ["care"]
    # Nobody hears the end of "four": in time the newest of those that wait have their turn.
    page.clock.run_for(60_000)
    eventually(lambda: len(page.evaluate("spoken")) > 5, "what waits is said")
    assert page.evaluate("spoken")[3] == "n18"
    page.evaluate("ends = true")
    page.clock.run_for(10_000)
    eventually(lambda: page.evaluate("spoken.at(-1)") == "n29", "the last is said")
    assert page.evaluate("spoken.length") == 3 + 12


# screen and alarms --------------------------------------------------------------------------------

WAKE = """
    const asked = [];
    let lock = null;
    Object.defineProperty(navigator, "wakeLock", { configurable: true, value: {
        async request(what) {
            if (document.visibilityState !== "visible") throw new Error();
            asked.push(what);
            lock = new EventTarget();
            lock.release = async () => lock.onrelease?.();
            return lock;
        },
    } });
    const seen = (state) => {
        Object.defineProperty(document, "visibilityState", { configurable: true, value: state });
        if (state === "hidden") lock.release();
        document.dispatchEvent(new Event("visibilitychange"));
        return new Promise((done) => setTimeout(done));
    };
    const states = [];
    const note = () => states.push(it.enabled());
    it.open({ changed() {} });
    await it.enable();
    note();
    await seen("hidden");
    note();
    await seen("visible");
    note();
    await it.disable();
    note();
    await seen("hidden");
    await seen("visible");
    note();
    return [asked, states];
"""


def test_the_screen_is_kept_awake_again_when_the_page_is_back(page: Page) -> None:
    alone(page)
    asked, states = page.evaluate(f"(given) => ({module('awake', WAKE)})(given)")
    assert asked == ["screen"] * 2
    assert states == [True, False, True, False, False]


def test_a_lost_line_is_heard_now_and_then(page: Page) -> None:
    alone(page)
    script = module(
        "alarms",
        """
        const speech = await import("/static/speech.js");
        await speech.enable("proof");
        spoken.length = 0;
        it.lasts("line", { tone: "lost", text: "Lost.", grace: 1500 });
        """,
    )
    page.evaluate(script)
    assert spoken(page) == []
    page.clock.run_for(1600)
    assert spoken(page) == ["Lost."]
    page.clock.run_for(44_000)
    assert spoken(page) == ["Lost."] * 2
    page.evaluate(module("alarms", "it.lasts('line', null);"))
    page.clock.run_for(60_000)
    assert spoken(page) == []
