"""What the demo counts, and how it shows that it goes on."""

from __future__ import annotations

import asyncio
from types import TracebackType
from typing import Any

import orjson

from capture import view as views
from capture.pipeline import Pipeline

PAGE = 1000
STARTING = "starting: the spec is loaded and the build opened"
RESULTS = ("conforming", "nonconforming", "undecided", "not_evaluated")


async def stored(pipeline: Pipeline) -> int:
    """How many readings are on disk."""
    return len(await asyncio.to_thread(_readings, pipeline))


async def tally(pipeline: Pipeline, build: str) -> dict[str, Any]:
    """Every stored reading by its current result, and how far the build is.

    ``unplaced`` are those of ``not_evaluated`` that still wait for somebody to place them;
    ``voided`` those that a person took out of the count.
    """
    readings = await asyncio.to_thread(_readings, pipeline)
    results = dict.fromkeys(RESULTS, 0)
    reasons: dict[str, int] = {}
    for reading in readings:
        results[reading["verdict"]["result"]] += 1
        reason = reading["placement"].get("reason")
        if reason is not None:
            reasons[reason["code"]] = reasons.get(reason["code"], 0) + 1
    state = await asyncio.wrap_future(pipeline.view(lambda desk: views.build(desk, build)))
    voided = reasons.pop("void", 0)
    return {
        "readings_stored": len(readings),
        **results,
        "unplaced": sum(reasons.values()),
        "unplaced_reasons": reasons,
        "voided": voided,
        "steps_done": state["steps_done"],
        "steps_total": state["steps_total"],
        "holds": len(state["holds"]),
    }


def _readings(pipeline: Pipeline) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    after = 0
    while (page := pipeline.archive.readings(after=after, limit=PAGE)).items:
        found.extend(orjson.loads(item) for item in page.items)
        after = page.next
    return found


class Progress:
    """A bar on standard error, where that is a terminal; nothing elsewhere."""

    def __init__(self, watched: bool) -> None:
        self._watched = watched
        self._bar: Any = None
        self._task: Any = None
        self._build = ""

    def __enter__(self) -> Progress:
        if self._watched:
            from rich.console import Console
            from rich.progress import BarColumn, TextColumn
            from rich.progress import Progress as Bar

            console = Console(stderr=True)
            words = TextColumn("{task.description}")
            self._bar = Bar(words, BarColumn(), TextColumn("{task.fields[steps]}"), console=console)
            self._bar.start()
            self._task = self._bar.add_task(STARTING, total=None, steps="")
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._bar is not None:
            self._bar.stop()

    async def show(self, pipeline: Pipeline, event: dict[str, Any]) -> None:
        """Takes note of something the workbench did."""
        self._build = event.get("id", "") if event["event"] == "build" else self._build
        if self._bar is None or not self._build:
            return
        build = self._build
        state = await asyncio.wrap_future(pipeline.view(lambda desk: views.next_step(desk, build)))
        waiting = "built" if state["done"] else "settling results"
        title = state["step"]["title"] if state["step"] else waiting
        self._bar.update(
            self._task,
            completed=state["steps_done"],
            total=state["steps_total"],
            description=title,
            steps=f"{state['steps_done']}/{state['steps_total']}",
        )
