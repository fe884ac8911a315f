"""From the starter spec to an open build on the pages alone: by keyboard, and without scripts."""

from __future__ import annotations

from pathlib import Path

import httpx
from playwright.sync_api import Browser, Page, expect

from api.starter import starter
from tests.browser.seen import PHONE, barriers, picture


def sound(page: Page, name: str) -> None:
    """Nothing in anybody's way, on a desk and on a phone."""
    picture(page, name)
    assert barriers(page) == []
    usual = page.viewport_size
    page.set_viewport_size(PHONE)
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    picture(page, f"{name}-phone")
    assert usual is not None
    page.set_viewport_size(usual)


def test_a_starter_becomes_a_build(browser: Browser, bench: httpx.Client) -> None:
    context = browser.new_context(color_scheme="dark")
    page = context.new_page()
    trouble: list[str] = []
    page.on("pageerror", lambda error: trouble.append(str(error)))
    page.goto(f"{bench.base_url}/specs")
    page.get_by_role("link", name="Fill in the starter spec").press("Enter")
    text = page.get_by_label("Or its text")
    expect(text).to_be_in_viewport()
    wrong = starter().decode().replace('upper_limit_of_size = "67.970"', 'upper_limit = "67.970"')
    text.fill(wrong)
    page.get_by_role("button", name="Try it").press("Enter")

    expect(page.get_by_role("status")).to_contain_text("1 error")
    sound(page, "spec-errors")
    page.locator(".told a").press("Enter")
    expect(text).to_be_focused()
    chosen = text.evaluate("at => at.value.slice(at.selectionStart, at.selectionEnd)")
    assert chosen.startswith('upper_limit = "67.970"')
    page.keyboard.insert_text('upper_limit_of_size = "67.970"')
    page.get_by_role("button", name="Try it").press("Enter")

    expect(page.get_by_role("heading", name="Small twin")).to_be_visible()
    expect(page.locator(".operation")).to_have_count(11)
    page.get_by_text("Every step").first.press("Enter")
    expect(page.get_by_role("cell", name="top-thrust").first).to_be_visible()
    page.get_by_role("button", name="Record this spec").press("Enter")
    expect(page.get_by_role("status").first).to_contain_text("The spec is recorded.")
    page.get_by_label("Title of the build").fill("Twin 1")
    page.keyboard.press("Enter")
    expect(page.get_by_role("status").first).to_contain_text("The build Twin 1 is open")
    page.locator(".told a").first.press("Enter")
    expect(page.locator(".line:target")).to_be_in_viewport()
    sound(page, "spec")
    (build,) = bench.get("/v1/builds").json()["builds"]
    assert (build["title"], build["active"]) == ("Twin 1", True)
    context.close()
    assert trouble == []


def test_all_of_it_works_without_scripts(
    browser: Browser, bench: httpx.Client, tmp_path: Path
) -> None:
    (tmp_path / "engine.toml").write_bytes(starter())
    context = browser.new_context(java_script_enabled=False, locale="de-DE")
    page = context.new_page()
    page.goto(f"{bench.base_url}/specs")
    page.get_by_label("Eine Datei").set_input_files(tmp_path / "engine.toml")
    page.get_by_role("button", name="Ausprobieren").click()
    page.get_by_role("button", name="Diese Vorgabe aufzeichnen").click()
    page.get_by_label("Titel des Aufbaus").fill("Zwilling 1")
    page.get_by_role("button", name="Aufbau eröffnen").click()
    expect(page.get_by_role("status").first).to_contain_text("Der Aufbau Zwilling 1 ist offen")
    (spec,) = bench.get("/v1/specs").json()["specs"]
    assert bench.get(f"/v1/specs/{spec['id']}").content == starter()
    context.close()
