"""What tests of a page share: sizes of screens, pictures for a person, accessibility.

Pictures go to the folder named by BENCH_PICTURES, if it is set.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from playwright.sync_api import Page, ViewportSize

DESK: ViewportSize = {"width": 1920, "height": 1080}
PHONE: ViewportSize = {"width": 390, "height": 844}


def picture(page: Page, name: str) -> None:
    folder = os.environ.get("BENCH_PICTURES")
    if folder:
        page.screenshot(path=str(Path(folder) / f"{name}.png"))


def barriers(page: Page) -> list[str]:
    """What axe-core finds wrong for people who see, hear or move otherwise (WCAG 2.2, A and AA,
    and its best practices)."""
    axe = pytest.importorskip("axe_core_python.base", reason="axe-core is not installed")
    page.evaluate(axe.AXE_SCRIPT)
    found = page.evaluate("axe.run({ resultTypes: ['violations'] })")
    return [
        f"{one['id']}: {one['help']} ({', '.join(node['html'] for node in one['nodes'])})"
        for one in found["violations"]
    ]
