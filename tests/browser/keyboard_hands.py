"""A builder whose gauges press SEND and who does everything else at the bench page, by keyboard.

The robot of ``simulators`` decides what is to be done; where it would post it, these hands do it on
the page: confirm, void with a reason, place, settle. Only what no page asks for (opening the build,
naming pieces, handing over a recorded pull) is posted.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from typing import Any

from playwright.sync_api import Locator, Page, expect

from simulators.client import Client
from tests.support import eventually

PATIENCE_MS = 20_000
HAND_MS = 120
LETTER = re.compile("[a-h]")
LAST = "async () => (await import('/static/now.js')).now().last?.seq ?? 0"
STEP = "async () => (await import('/static/now.js')).now().next?.step?.id ?? ''"


class KeyboardHands(Client):
    """Posts what a person types at the page; ``done`` counts it by kind."""

    def __init__(self, service: str, page: Page) -> None:
        super().__init__(service)
        self.page = page
        self.done: Counter[str] = Counter()
        self._ways: tuple[tuple[re.Pattern[str], Callable[[re.Match[str], Any], bool]], ...] = (
            (re.compile(r"/v1/builds/(\w+)/confirmations"), self._confirm),
            (re.compile(r"/v1/readings/(\d+)/voids"), self._void),
            (re.compile(r"/v1/readings/(\d+)/placements"), self._place),
            (re.compile(r"/v1/builds/(\w+)/concessions"), self._concede),
            (re.compile(r"/v1/builds/(\w+)/reworks"), self._rework),
        )

    def post(self, path: str, body: dict[str, Any]) -> Any:
        for form, way in self._ways:
            if (found := form.fullmatch(path)) and way(found, body):
                self.done[path.rpartition("/")[2]] += 1
                return {}
        return super().post(path, body)

    # each way: True when it was done on the page -----------------------------------------------

    def _confirm(self, found: re.Match[str], body: Any) -> bool:
        self._until(STEP, body["step"])
        # One confirmation close behind another waits until it can have been seen.
        self._drawn_for_a_while()
        self._key("y")
        self._stored(lambda: self.get(f"/v1/builds/{found[1]}/next")["step"], body["step"])
        return True

    def _void(self, found: re.Match[str], body: Any) -> bool:
        """The last press by its one key; an older one where it waits."""
        seq = int(found[1])
        waits = self.page.locator(f'[data-key="void {seq}"]')
        self._heard(seq)
        if self.page.evaluate(LAST) == seq:
            self._key("v")
        else:
            self._press(waits)
        self._say(body["reason"])
        return True

    def _place(self, found: re.Match[str], body: Any) -> bool:
        """One that waits by the key of its mend; one that is placed by saying where it was."""
        self._heard(int(found[1]))
        if not self.get(f"/v1/readings/{found[1]}")["placement"].get("step"):
            mend = self.page.locator(f'[data-key="mend {found[1]}"]')
            expect(mend).to_have_attribute("data-press", LETTER, timeout=PATIENCE_MS)
            self._key(str(mend.get_attribute("data-press")))
            expect(mend).to_have_count(0, timeout=PATIENCE_MS)
        else:
            assert self.page.evaluate(LAST) == int(found[1])
            self._key("m")
            self._press(self.page.locator(f'[data-choice="{body["step"].partition("/")[0]}"]'))
            self.page.locator(f'#ask-step input[value="{body["step"]}"]').focus()
            self.page.keyboard.press("Space")
            self.page.keyboard.press("Enter")
            expect(self.page.get_by_role("dialog")).to_be_hidden(timeout=PATIENCE_MS)
        placed = self.get(f"/v1/readings/{found[1]}")["placement"]
        assert placed.get("step") == body["step"], placed
        return True

    def _concede(self, found: re.Match[str], body: Any) -> bool:
        return self._settle(body["subject"], "Concede", body["reason"])

    def _rework(self, found: re.Match[str], body: Any) -> bool:
        piece = f"{body['part'].replace('-', ' ')} {body['number']}"
        holds = self.get(f"/v1/builds/{found[1]}/next")["waiting"]
        subject = next(
            (
                hold["subject"]
                for hold in holds
                if {"part": body["part"], "number": body["number"]} in hold["places"]
            ),
            None,
        )
        return subject is not None and self._settle(subject, f"Rework {piece}", body["reason"])

    def _settle(self, subject: str, way: str, reason: str) -> bool:
        self._press(self.page.locator(f'[data-key="settle {subject}"]'))
        options = self.page.locator("#ask-fields .tile")
        texts = options.all_inner_texts()
        at = next(place for place, text in enumerate(texts) if text.strip().startswith(way))
        # The first tile has the focus: the arrows go to the one that is meant.
        options.first.locator("input").focus()
        self.page.keyboard.press("Space")
        for _ in range(at):
            self.page.keyboard.press("ArrowDown")
        self.page.locator("#ask-reason").focus()
        self._say(reason)
        return True

    # the keyboard -------------------------------------------------------------------------------

    def _press(self, button: Locator) -> None:
        expect(button).to_be_visible(timeout=PATIENCE_MS)
        button.focus()
        self.page.keyboard.press("Enter")

    def _key(self, key: str) -> None:
        """One key, as late after the last as a hand's: what comes faster is a machine's."""
        self.page.wait_for_timeout(HAND_MS)
        self.page.keyboard.press(key)

    def _say(self, reason: str) -> None:
        """Writes the reason where the dialog has put the cursor, and records it."""
        dialog = self.page.get_by_role("dialog")
        expect(dialog).to_be_visible(timeout=PATIENCE_MS)
        expect(self.page.locator("#ask-reason")).to_be_focused()
        self.page.keyboard.insert_text(reason)
        self.page.keyboard.press("Enter")
        expect(dialog).to_be_hidden(timeout=PATIENCE_MS)

    def _heard(self, seq: int) -> None:
        """Waits until the page has drawn what this reading came to."""
        self._wait("async (seq) => (await import('/static/now.js')).now().size >= seq + 1", seq)

    def _until(self, script: str, value: str) -> None:
        self._wait(f"async (value) => (await ({script})()) === value", value)

    def _wait(self, script: str, value: Any = None) -> None:
        """``wait_for_function`` takes a promise for truth, so the page is asked again and again."""
        eventually(lambda: bool(self.page.evaluate(script, value)), script, PATIENCE_MS / 1000)

    def _drawn_for_a_while(self) -> None:
        self._wait("async () => !(await import('/static/confirm.js')).tooSoon()")

    def _stored(self, step: Callable[[], Any], before: str) -> None:
        for _ in range(400):
            now = step()
            if now is None or now["id"] != before:
                return
            self.page.wait_for_timeout(10)
        said = [self.page.locator(one).inner_text() for one in ("#message", "#alarm")]
        raise AssertionError(f"{before} was not confirmed: {said}")
