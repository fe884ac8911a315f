"""The auditor finds the corrected reading by filters, follows its proof, takes the file and the
bundle home, and the bundle is whole."""

from __future__ import annotations

import asyncio
import csv
import io
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.audited import REASON, Audited, audited
from tests.browser.seen import DESK, PHONE, barriers, picture
from tests.served import served


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Audited]]:
    folder = tmp_path_factory.mktemp("auditor")
    with ThreadPoolExecutor(1) as aside:  # Playwright has a loop of its own in this thread
        filled = aside.submit(lambda: asyncio.run(audited(folder / "store"))).result()
    with served(folder) as up:
        yield up["url"], filled


@pytest.fixture
def page(browser: Browser, found: tuple[str, Audited]) -> Iterator[Page]:
    context = browser.new_context(viewport=DESK, base_url=found[0], locale="en")
    made = context.new_page()
    trouble: list[str] = []
    made.on("pageerror", lambda error: trouble.append(str(error)))
    made.on("console", lambda said: trouble.append(said.text) if said.type == "error" else None)
    yield made
    context.close()
    assert trouble == []


def taken(page: Page, name: str, folder: Path) -> Path:
    """What the link with this name downloads."""
    with page.expect_download() as download:
        page.get_by_role("link", name=name).click()
    where = folder / download.value.suggested_filename
    download.value.save_as(where)
    return where


def test_the_auditor_finds_follows_and_takes_home(
    page: Page, found: tuple[str, Audited], tmp_path: Path
) -> None:
    filled = found[1]
    page.goto("/history")
    expect(page.locator("tbody tr")).to_have_count(5)
    picture(page, "history")
    page.get_by_label("Verdict").select_option("conforming")
    page.get_by_label("Corrected").select_option("true")
    page.get_by_label("Corrected").focus()
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")  # by keyboard: the button behind the last field
    row = page.locator("tbody tr")
    expect(row).to_have_count(1)
    expect(row).to_contain_text("25.004 mm")
    expect(row.locator(".marks")).to_contain_text("corrected")
    expect(page.locator(".chip")).to_have_count(3)
    whole = list(csv.DictReader(io.StringIO(taken(page, "CSV table", tmp_path).read_text("utf-8"))))
    assert [int(line["seq"]) for line in whole] == [filled.corrected]

    row.get_by_role("link", name=str(filled.corrected)).click()
    expect(page.get_by_role("heading", level=1)).to_have_text(f"Reading {filled.corrected}")
    fields = page.locator(".wire li")
    expect(fields).to_have_count(7)
    expect(fields.nth(3)).to_contain_text("0024.504")
    expect(fields.nth(3)).to_contain_text("number")
    expect(page.locator(".decisions .counts")).to_contain_text(REASON)
    picture(page, "reading")
    expect(page.locator("#proof-again")).to_have_text(
        "Your browser worked out the same root from the entry's bytes."
    )
    expect(page.locator('.checks [data-fits="true"]')).to_have_count(3)
    page.get_by_text("Check it yourself").click()
    expect(page.get_by_text("RFC 9162")).to_be_visible()
    bundle = taken(page, "Bundle of this entry", tmp_path)
    folder = tmp_path / "home"
    zipfile.ZipFile(bundle).extractall(folder)
    checked = subprocess.run(
        [sys.executable, "-I", str(folder / "check_bundle.py")],
        cwd=folder, capture_output=True, encoding="utf-8", timeout=30,
    )  # fmt: skip
    assert checked.returncode == 0, checked.stdout
    assert checked.stdout.startswith("whole: ")
    assert (folder / "entries" / f"{filled.corrected:09d}.json").is_file()

    page.locator("#proof").get_by_role("link", name=str(filled.corrected), exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text(f"Entry {filled.corrected}")
    expect(page.locator('.checks [data-fits="true"]')).to_have_count(3)


def test_a_changed_entry_does_not_pass_in_the_browser(
    page: Page, found: tuple[str, Audited]
) -> None:
    seq = found[1].conforming
    page.route(f"**/v1/entries/{seq}", lambda route: route.fulfill(body=b'{"seq":8}'))
    page.goto(f"/readings/{seq}")
    expect(page.locator("#proof-again")).to_have_attribute("data-fits", "false")
    expect(page.locator("#proof-again")).to_contain_text("another root")
    # Over plain HTTP from another machine a browser gives a page no SHA-256: then it says so.
    page.add_init_script("Object.defineProperty(Crypto.prototype, 'subtle', { value: undefined })")
    page.reload()
    expect(page.locator("#proof-again")).to_contain_text("Your browser has not checked this")
    expect(page.locator("#proof-again")).to_have_attribute("data-fits", "unknown")


def test_every_page_is_open_to_all_in_both_languages_and_on_a_phone(
    page: Page, found: tuple[str, Audited]
) -> None:
    filled = found[1]
    addresses = (
        "/history?corrected=true", f"/readings/{filled.corrected}", f"/readings/{filled.held}",
        "/entries", f"/entries/{filled.void + 1}",
    )  # fmt: skip
    page.goto(addresses[0])
    assert barriers(page) == []
    page.emulate_media(color_scheme="dark")
    page.set_viewport_size(PHONE)
    page.goto("/history?language=de")
    form = page.locator("form.filters")
    expect(form).to_be_hidden()  # folded: the readings come first
    other = page.context.new_page()  # one that may complain: of the 404
    other.goto("/history?build=b1")
    expect(other.locator("form.filters")).to_be_visible()
    expect(other.get_by_role("alert")).to_contain_text("nichts in diesem Hauptbuch heißt „b1“")
    assert barriers(other) == []
    other.close()
    for address in addresses:
        page.goto(address)
        assert barriers(page) == [], address
        wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        assert wide <= 0, address
        picture(page, f"phone{address.split('?')[0].replace('/', '-')}")
