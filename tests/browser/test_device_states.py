"""What the bench page says of a connection: lost since when, and a battery before it is empty."""

from __future__ import annotations

import httpx
from playwright.sync_api import Page, expect


def test_a_loss_says_since_when_and_a_low_battery_is_seen_while_it_works(
    page: Page, bench: httpx.Client
) -> None:
    state = bench.get("/v1/bench").json()
    mike, bore = state["instruments"][:2]
    told = {"detail": "on its radio", "at": "2026-01-05T10:20:30.000000Z", "battery": None}
    lost = {**told, "since": "2026-01-05T10:20:30.000000Z", "low_battery": False}
    state["devices"] = [
        {**lost, "instrument": mike["id"], "state": "lost", "detail": "it is out of reach"},
        {**told, "instrument": bore["id"], "state": "ready", "since": told["at"], "battery": 15,
         "low_battery": True},
    ]  # fmt: skip
    for one in (mike, bore):
        one["port"] = "radio"
    page.route("**/v1/bench", lambda route: route.fulfill(json=state))
    page.reload()

    tiles = page.locator("#instruments li")
    expect(tiles.filter(has_text=mike["id"])).to_contain_text("lost since ")
    expect(tiles.filter(has_text=mike["id"])).to_contain_text("it is out of reach")
    low = tiles.filter(has_text=bore["id"])
    expect(low).to_contain_text("ready")
    expect(low).not_to_contain_text("since")
    expect(low).to_contain_text("Battery low (15 %): change or charge it before it fails")
