"""``make pictures``: takes the README's pictures anew, from a demo that runs while they are taken.

Everything in them is simulated and invented. Small on purpose, with few colours.
"""

from __future__ import annotations

import argparse
import io
import json
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple

import httpx
from PIL import Image
from playwright.sync_api import Browser, Page, ViewportSize, sync_playwright

from tests.browser.conftest import FLAGS
from tests.served import ROOT, command, served
from tests.support import find_chromium

WIDE: ViewportSize = {"width": 1920, "height": 1080}
DESK: ViewportSize = {"width": 1280, "height": 900}
WIDTH = 960
COLOURS = 64
PACE = "0.35"
PATIENCE_SECONDS = 300
AT_A_BORE = """() => {
  const said = document.querySelector("#verdict")?.textContent ?? "";
  const done = Number.parseInt(document.querySelector("#progress")?.textContent ?? "", 10);
  return done > 60 && said.includes("Conforming") && !!document.querySelector("svg .lit");
}"""


class Wanted(NamedTuple):
    """A picture of a page of a finished demo."""

    name: str
    path: str


def wanted(http: httpx.Client) -> list[Wanted]:
    """The pages to be shown, of what this store holds."""
    build = http.get("/v1/builds").json()["builds"][0]["id"]
    readings = http.get("/v1/readings", params={"limit": 1000}).json()["readings"]
    corrected = next(one["seq"] for one in readings if one["decided_by"] == "person")
    return [
        Wanted("build", f"/builds/{build}"),
        Wanted("reading", f"/readings/{corrected}"),
        Wanted("sheet", f"/v1/builds/{build}/sheet"),
    ]


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.pictures", description=__doc__)
    parser.add_argument("--folder", type=Path, default=ROOT / "docs")
    folder: Path = parser.parse_args().folder
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as made, sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=find_chromium(), headless=True, args=FLAGS
        )
        kept = Path(made) / "demo"
        with _demo(kept) as address:
            page = _page(browser, WIDE)
            page.goto(address)
            page.wait_for_function(AT_A_BORE, timeout=PATIENCE_SECONDS * 1000)
            _save(page, folder / "bench.png")
            _until_done(address)
        with (
            served(kept, complains=True) as up,
            httpx.Client(base_url=up["url"], timeout=60) as http,
        ):
            for one in wanted(http):
                page = _page(browser, DESK)
                page.goto(up["url"] + one.path)
                _save(page, folder / f"{one.name}.png")
        browser.close()


@contextmanager
def _demo(kept: Path) -> Iterator[str]:
    words = ("demo", "--no-open", "--pace", PACE, "--keep", str(kept))
    process = subprocess.Popen(
        command(*words), stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, cwd=ROOT
    )
    assert process.stderr is not None
    try:
        yield process.stderr.readline().split()[2].rstrip("/")
    finally:
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=60)


def _until_done(address: str) -> None:
    deadline = time.monotonic() + PATIENCE_SECONDS
    while time.monotonic() < deadline:
        state: dict[str, Any] = json.loads(httpx.get(f"{address}/v1/bench", timeout=30).text)
        if state["next"] and state["next"]["done"]:
            return
        time.sleep(1)
    sys.exit("the demo did not end in time")


def _page(browser: Browser, size: ViewportSize) -> Page:
    return browser.new_context(viewport=size, color_scheme="light", locale="en").new_page()


def _save(page: Page, path: Path) -> None:
    with Image.open(io.BytesIO(page.screenshot())) as shot:
        height = round(shot.height * WIDTH / shot.width)
        small = shot.convert("RGB").resize((WIDTH, height), Image.Resampling.LANCZOS)
        small.quantize(COLOURS, dither=Image.Dither.NONE).save(path, optimize=True)
    print(f"{path.name}: {path.stat().st_size / 1000:.0f} kB")
    page.context.close()


if __name__ == "__main__":
    main()
