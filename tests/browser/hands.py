"""What a person does to the page's dialog, by touch and by keyboard."""

from __future__ import annotations

from playwright.sync_api import Locator, Page


def dialog(page: Page) -> Locator:
    return page.get_by_role("dialog")


def keys(page: Page, *names: str) -> None:
    for name in names:
        page.keyboard.press(name)


def choose(page: Page, *leaves: str) -> None:
    """One page of the dialog with tiles: touched, and moved on."""
    for leaf in leaves:
        dialog(page).get_by_text(leaf, exact=True).click()
    dialog(page).locator("#ask-do").click()
