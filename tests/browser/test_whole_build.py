"""The demo's engine, built by presses of its simulated gauges and by the bench page's keyboard.

A second page looks on whose line fails now and then.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import Browser, Page, expect

from simulators import scenario
from simulators.builder import Builder
from simulators.workbench import Workbench
from tests.browser.keyboard_hands import KeyboardHands
from tests.browser.seen import DESK, PHONE
from tests.served import served

pytestmark = pytest.mark.timeout(300)

CUT_AT = (40, 120)
"""Presses after which the first page loses its line for a while."""
BACK_AFTER = 6


class Line:
    """Cuts a page's line after some presses, and mends it some presses later."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.presses = 0
        self.cuts = 0

    def report(self, said: dict[str, Any]) -> None:
        if said["event"] != "press":
            return
        self.presses += 1
        if self.presses in CUT_AT:
            self.page.context.set_offline(True)
            self.cuts += 1
        elif self.presses - BACK_AFTER in CUT_AT:
            self.page.context.set_offline(False)


def test_the_demo_is_built_by_presses_and_keyboard_alone(browser: Browser, tmp_path: Path) -> None:
    plan = scenario.load("inline-four")
    with Workbench(plan, tmp_path / "bench") as bench:
        (tmp_path / "bench.toml").write_bytes(bench.bench_file.read_bytes())
        # Noise on the line is among the mistakes.
        with (
            served(tmp_path, complains=True) as up,
            httpx.Client(base_url=up["url"], timeout=30) as http,
        ):
            page, second = (browser.new_context(viewport=size).new_page() for size in (DESK, PHONE))
            trouble: list[str] = []
            for one in (page, second):
                one.on("pageerror", lambda error: trouble.append(str(error)))
                one.goto(up["url"])
                expect(one.locator("#line")).to_have_text("Live")
            line = Line(second)
            hands = KeyboardHands(up["url"], page)
            try:
                counts = Builder(bench, hands, line.report).run()
            finally:
                hands.close()
            assert counts["mistakes_left"] == []
            assert len(counts["mistakes"]) >= 10
            # What a person did was done on the page, by keyboard.
            assert hands.done["confirmations"] == counts["confirmations"] > 20
            assert hands.done["voids"] == counts["voided"] > 5
            assert hands.done["reworks"] == counts["reworks"] > 0
            assert hands.done["concessions"] == counts["concessions"] > 0
            assert hands.done["placements"] == counts["placed_by_hand"] > 0
            assert line.cuts == len(CUT_AT)
            total = http.get(f"/v1/builds/{counts['build']}").json()["steps_total"]
            for one in (page, second):
                expect(one.locator("#next-title")).to_have_text("Every step is done")
                expect(one.locator("#progress")).to_contain_text(f"{total} of {total}")
                expect(one.locator("#line")).to_have_text("Live")
            assert page.locator("#last").inner_text() == second.locator("#last").inner_text()
            # Every void and rework is in the record with the reason that was typed.
            story = http.get(f"/v1/builds/{counts['build']}/story").json()["story"]
            assert sum(1 for one in story if one["kind"] == "rework") == counts["reworks"]
            assert trouble == []
            page.context.close()
            second.context.close()
