"""``witnessmark demo``: an invented engine, built on a simulated workbench while you watch.

The workbench is a process of its own (``python -m simulators``); its gauges reach this service
through pseudo-terminals, as real ones do through a cable. The service runs in this process.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import sys
import tempfile
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from api.cli.output import FOUND_WRONG, clear_errors, emit, json_option
from api.cli.workbench import Workbench
from api.settings import Settings
from capture.errors import CaptureError

if TYPE_CHECKING:
    from api.server import Listening

SETTLE_SECONDS = 20.0
"""How long the last readings may be under way after the workbench is done."""
WATCHED_PACE = 0.4
USUAL = "inline-four"
INTERRUPTED = 130
MARKER = "demo.json"
"""Lies in a folder that a demo made."""
MADE_BY = "witnessmark demo"
MEANT = (
    "the simulated builder makes mistakes on purpose (noise on a cable, a plug pulled out, a wrong "
    "cylinder…): what is said against them here is meant"
)


def shipped() -> list[str]:
    """Names of the scenarios that come with the program, the usual one first."""
    # Found, not imported: the workbench is a program of its own, and its files lie beside it.
    found = find_spec("simulators")
    folders = [] if found is None else list(found.submodule_search_locations or ())
    files = (file for one in folders for file in Path(one).glob("scenarios/*/scenario.toml"))
    names = sorted({file.parent.name for file in files})
    return sorted(names, key=lambda name: name != USUAL)


@click.command("demo")
@click.option("--until-done", is_flag=True, help="End when the engine is built, and verify.")
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="Port of the page.")
@click.option(
    "--keep", type=click.Path(path_type=Path), help="New folder that keeps bench and store."
)
@click.option("--pace", type=click.FloatRange(0, 60), help="Seconds between two steps.")
@click.option(
    "--scenario",
    default=USUAL,
    show_default=True,
    help=f"What is done: {' or '.join(shipped())}.",
)
@click.option("--open/--no-open", "open_page", default=None, help="Open the page in a browser.")
@json_option
@clear_errors
def command(
    until_done: bool,
    port: int,
    keep: Path | None,
    pace: float | None,
    scenario: str,
    open_page: bool | None,
    as_json: bool,
) -> None:
    """Build an invented engine on a simulated workbench, from first bore to last fastener.

    Nothing in it is real: engine, limits, gauges and parts are invented. The address of its page
    is the first line of standard error where that is no terminal. With --json the last line of
    standard output is one JSON object. Exit code 0 if every reading that was sent is
    stored and the ledger verified afterwards, else 1.
    """
    if open_page is None:
        open_page = not until_done and _has_screen()
    speed = pace if pace is not None else 0.0 if until_done else WATCHED_PACE
    with contextlib.ExitStack() as stack:
        folder = keep or Path(
            stack.enter_context(tempfile.TemporaryDirectory(prefix="witnessmark-"))
        )
        store = folder / "store"
        prepare(folder, scenario)
        demo = Demo(folder, port, speed, scenario, until_done, open_page, sys.stderr.isatty())
        counts = asyncio.run(demo.run())
        if not demo.done:
            click.echo("interrupted: the engine is not finished.", err=True)
            raise SystemExit(INTERRUPTED)
        report = _report(counts, store, demo.listed)
    if as_json:
        emit(report)
    else:
        click.echo(_sentence(report))
    if report["readings_sent"] != report["readings_stored"] or report["verified"] is not True:
        raise SystemExit(FOUND_WRONG)


def prepare(folder: Path, scenario: str) -> None:
    """Makes the folder and marks it as a demo's own.

    What a person put there is never overwritten, and nor is any ledger; bench.toml and ports that
    an earlier demo left are. Raises CaptureError.
    """
    mend = "Mend: give --keep a new folder."
    if os.path.lexists(folder) and not folder.is_dir():
        raise CaptureError(f"{folder} is not a folder. {mend}")
    names = ("store",) if _is_demos(folder) else ("store", "bench.toml", "ports", MARKER)
    there = [str(folder / name) for name in names if os.path.lexists(folder / name)]
    if there:
        verb = "is" if len(there) == 1 else "are"
        raise CaptureError(
            f"{' and '.join(there)} {verb} there already, and a demo overwrites nothing that it "
            f"did not make, and no ledger at all. {mend}"
        )
    folder.mkdir(parents=True, exist_ok=True)
    body = {"made_by": MADE_BY, "scenario": scenario, "simulated": True}
    (folder / MARKER).write_text(json.dumps(body, indent=2) + "\n", "utf-8")


def _is_demos(folder: Path) -> bool:
    """Whether an earlier demo marked this folder as its own."""
    try:
        body = json.loads((folder / MARKER).read_bytes())
    except (OSError, ValueError):
        return False
    return isinstance(body, dict) and body.get("made_by") == MADE_BY


class Demo:
    """One run: workbench, service, and what a person sees of it."""

    def __init__(
        self,
        folder: Path,
        port: int,
        pace: float,
        scenario: str,
        until_done: bool,
        open_page: bool,
        watched: bool,
    ) -> None:
        self._folder = folder
        self._port = port
        self._pace = pace
        self._scenario = scenario
        self._until_done = until_done
        self._open = open_page
        self._watched = watched
        self.done = False
        self.listed: dict[str, Any] = {}

    async def run(self) -> dict[str, Any]:
        """Runs to the end; gives what the workbench counted, empty if it was interrupted."""
        from api.server import serve

        if self._watched:
            click.echo("starting the simulated workbench", err=True)
        async with Workbench(self._scenario, self._folder) as bench:
            ready = await bench.expect("ready")
            up: asyncio.Future[Listening] = asyncio.get_running_loop().create_future()
            settings = Settings(Path(ready["bench"]), self._folder / "store", port=self._port)
            server = asyncio.create_task(serve(settings, ready=up.set_result))
            futures: set[asyncio.Future[Any]] = {server, up}
            await asyncio.wait(futures, return_when=asyncio.FIRST_COMPLETED)
            if not up.done():
                await server
                return {}
            return await self._build(bench, server, up.result())

    async def _build(
        self, bench: Workbench, server: asyncio.Task[None], listening: Listening
    ) -> dict[str, Any]:
        # Also where nobody watches: whoever reads the lines may want to look in.
        click.echo(f"bench page: {listening.url}/  (everything simulated; Ctrl-C ends)", err=True)
        click.echo(MEANT, err=True)
        if self._open:
            import webbrowser

            webbrowser.open(listening.url)
        work = asyncio.create_task(self._work(bench, listening))
        try:
            futures: set[asyncio.Future[Any]] = {server, work}
            await asyncio.wait(futures, return_when=asyncio.FIRST_COMPLETED)
            # A service that is stopping refuses the workbench too: that is no error of its own.
            if not work.done() or listening.service.stopping.is_set():
                return {}
            counts = work.result()
            self.done = True
            if not self._until_done:
                text = f"the engine is built; the page stays up at {listening.url}/"
                click.echo(text, err=True)
                await asyncio.wait({server})
            return counts
        finally:
            work.cancel()
            listening.stop()
            await asyncio.gather(work, return_exceptions=True)
            await server

    async def _work(self, bench: Workbench, listening: Listening) -> dict[str, Any]:
        """Lets the workbench build; counts what is stored once all of it is."""
        from api.cli.tally import Progress, stored, tally

        await bench.tell({"service": listening.url, "token": None, "pace": self._pace})
        pipeline = listening.service.pipeline
        with Progress(self._watched) as progress:
            async for event in bench.events():
                await progress.show(pipeline, event)
                if event["event"] == "done":
                    counts = event
                    break
            else:
                raise CaptureError("the workbench ended before the engine was built.")
        deadline = asyncio.get_running_loop().time() + SETTLE_SECONDS
        while await stored(pipeline) < counts["readings_sent"]:
            if asyncio.get_running_loop().time() > deadline:
                break
            await asyncio.sleep(0.02)
        self.listed = await tally(pipeline, counts["build"])
        return counts


def _report(counts: dict[str, Any], store: Path, listed: dict[str, Any]) -> dict[str, Any]:
    from capture.verify import verify

    found = verify(store)
    return {
        "readings_sent": counts["readings_sent"],
        **listed,
        "verified": found.ok,
        "problems": [problem._asdict() for problem in found.problems[:20]],
        "entries": found.size,
        "root": found.root,
        "workbench": {
            name: value for name, value in counts.items() if name not in ("event", "readings_sent")
        },
        "simulated": True,
    }


def _sentence(report: dict[str, Any]) -> str:
    results = ", ".join(
        f"{report[name]} {name.replace('_', ' ')}"
        for name in ("conforming", "nonconforming", "undecided", "not_evaluated", "unplaced")
    )
    proof = "the ledger verified" if report["verified"] else "THE LEDGER DID NOT VERIFY"
    return (
        f"{report['readings_sent']} readings sent, {report['readings_stored']} stored. "
        f"All of them by the verdict of now, superseded ones and gauge checks too: {results}. "
        f"{report['steps_done']} of {report['steps_total']} steps done; {proof}."
    )


def _has_screen() -> bool:
    """Whether a person at a terminal has a display to open a page on."""
    if not sys.stdout.isatty():
        return False
    if sys.platform in ("win32", "darwin"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
