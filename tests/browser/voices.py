"""A browser with a voice, for tests: headless Chromium has none."""

from __future__ import annotations

from playwright.sync_api import Page

VOICES = """
window.spoken = [];
window.ends = true;
window.pulses = 0;
const Real = OscillatorNode;
window.OscillatorNode = class extends Real { start(...at) { pulses += 1; super.start(...at); } };
window.SpeechSynthesisUtterance = class { constructor(text) { this.text = text; } };
let current = null;
Object.defineProperty(window, "speechSynthesis", { value: {
    getVoices: () => ["de", "en"].map((lang) => ({ lang: `${lang}-XX`, localService: true })),
    speak(one) {
        spoken.push(one.text);
        current = one;
        if (ends) setTimeout(() => one.onend?.());
    },
    cancel() { setTimeout((one) => one?.onerror?.({ error: "interrupted" }), 0, current); },
} });
"""
"""A voice that says nothing and is done at once; with ``ends = false`` it never comes to its end.
And how many pulses of tones were begun."""


def spoken(page: Page) -> list[str]:
    found: list[str] = page.evaluate("spoken.splice(0)")
    return found


def alone(page: Page) -> None:
    """The page with a voice and a clock of the test's, and nothing that speaks by itself."""
    page.add_init_script(VOICES)
    page.clock.install()
    page.route("**/static/bench.js", lambda route: route.fulfill(content_type="text/javascript"))
    page.reload()


def module(name: str, script: str) -> str:
    """A script that has a module of the page's, as ``it``."""
    return f"async (given) => {{ const it = await import('/static/{name}.js'); {script} }}"
