"""``witnessmark instruments --watch``: the row of the gauge whose button is pressed lights up."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any

import click

from api.cli.line import SerialLine
from api.cli.output import emit

if TYPE_CHECKING:
    from rich.console import Group
    from rich.table import Table

    from drivers.bench import Bench
    from drivers.reach.watch import Place, Press

LIT = 2.0
"""Seconds a row stays lit."""
NOTICE = "Press the button of a gauge, and its row lights up. Nothing is stored. Ctrl-C ends it."


def watch(bench: Bench | None, line: SerialLine, seconds: float | None, *, as_json: bool) -> None:
    """Opens what is within reach and shows presses until Ctrl-C; ``seconds`` of each scan for
    Bluetooth devices, None to leave Bluetooth alone."""
    # what goes wrong is said in our words, beside its row
    logging.getLogger("bleak").setLevel(logging.CRITICAL)
    table = not as_json and sys.stdout.isatty()
    if not as_json:
        click.echo(NOTICE, err=True)
    shown = Rows() if table else Lines(as_json=as_json)
    with contextlib.suppress(KeyboardInterrupt, asyncio.CancelledError):
        asyncio.run(_watch(bench, line, seconds, shown))
    if isinstance(shown, Lines) and shown.error is not None:
        raise shown.error


async def _watch(
    bench: Bench | None, line: SerialLine, seconds: float | None, shown: Rows | Lines
) -> None:
    from drivers.reach.known import Known
    from drivers.reach.watch import Watch, Watcher
    from drivers.transports.settings import PortSettings

    usual = PortSettings(
        id="",
        device="",
        baud=line.baud,
        data_bits=line.data_bits,  # type: ignore[arg-type]  # one of the choices
        parity=line.parity,  # type: ignore[arg-type]  # one of the choices
        stop_bits=float(line.stop_bits),
    )
    # a port that hangs while it is opened keeps a thread, and must not keep the others waiting
    executor = ThreadPoolExecutor(32, thread_name_prefix="port")
    task = asyncio.current_task()
    assert task is not None
    shown.end = task.cancel
    watcher = Watcher(shown.place, shown.state, shown.press)
    try:
        with shown:
            await Watch(watcher, executor, Known(bench), usual, seconds=seconds).run()
    finally:
        executor.shutdown(wait=False, cancel_futures=True)


class Lines:
    """One line for each press, for programs and pipes; what ports are doing goes beside it."""

    def __init__(self, *, as_json: bool) -> None:
        self._json = as_json
        self._places: dict[str, Place] = {}
        self._said: dict[str, str] = {}
        self.end: Callable[[], object] = _nothing
        """Called where no line can be printed any more."""
        self.error: OSError | None = None

    def __enter__(self) -> None:
        """Needs no beginning."""

    def __exit__(self, *_: object) -> None:
        """Needs no end."""

    def place(self, place: Place) -> None:
        """Remembers what a port is."""
        self._places[place.port] = place

    def state(self, port: str, words: str) -> None:
        """Says it once, not at every try."""
        if self._said.get(port) != words:
            self._said[port] = words
            click.echo(words or f"{port} is listened to", err=True)

    def press(self, press: Press) -> None:
        """Prints it."""
        try:
            self._print(press)
        except OSError as error:  # called by the loop, which would only log it
            self.error = error
            self.end()

    def _print(self, press: Press) -> None:
        if self._json:
            emit(self._body(press))
            return
        from drivers.reach.bursts import shown

        names = ", ".join(self._names(press.port))
        reading = "  ".join(press.readings)
        words = (press.burst.time, press.port, names, shown(press.burst.raw), reading)
        click.echo("  ".join(filter(None, words)))

    def _body(self, press: Press) -> dict[str, Any]:
        return {
            "port": press.port,
            "instruments": list(self._names(press.port)),
            "time": press.burst.time,
            "hex": press.burst.raw.hex(" "),
            "characteristic": press.burst.source,
            "readings": list(press.readings),
        }

    def _names(self, port: str) -> tuple[str, ...]:
        return self._places[port].instruments


class Rows:
    """A table that is drawn again whenever something happens, and while a row is lit."""

    def __init__(self) -> None:
        from rich.console import Console
        from rich.live import Live

        self._rows: dict[str, _Row] = {}
        self._notes: dict[str, str] = {}
        self.end: Callable[[], object] = _nothing
        self._live = Live(
            get_renderable=self._drawn, console=Console(), refresh_per_second=8, transient=False
        )

    def __enter__(self) -> None:
        self._live.start()

    def __exit__(self, *_: object) -> None:
        self._live.stop()

    def place(self, place: Place) -> None:
        """Adds a row."""
        names = ", ".join(place.instruments)
        self._rows.setdefault(place.port, _Row()).title = names or place.title

    def state(self, port: str, words: str) -> None:
        """Says what a port is doing; what has no row is said below the table."""
        if port not in self._rows:
            self._notes[port] = words
            return
        self._rows[port].state = words or "listening"

    def press(self, press: Press) -> None:
        """Lights the row."""
        from drivers.reach.bursts import shown

        row = self._rows.setdefault(press.port, _Row())
        row.lit = time.monotonic() + LIT
        row.count += 1
        row.last = "  ".join([shown(press.burst.raw), *press.readings])

    def _drawn(self) -> Group:
        from rich.console import Group
        from rich.text import Text

        return Group(self._table(), *(Text(words) for words in self._notes.values()))

    def _table(self) -> Table:
        from rich.table import Table
        from rich.text import Text

        table = Table(box=None, expand=True, pad_edge=False, header_style="underline")
        table.add_column("", width=3, no_wrap=True)
        table.add_column("port", ratio=3, overflow="fold")
        table.add_column("what", ratio=2, overflow="fold")
        table.add_column("presses", justify="right", no_wrap=True)
        table.add_column("last", ratio=4, overflow="fold")
        now = time.monotonic()
        for port, row in list(self._rows.items()):
            lit = row.lit > now
            cells = (">>>" if lit else "", port, row.title, str(row.count or ""), row.shown)
            # as Text: a name or what a gauge sends may look like mark-up
            table.add_row(*(Text(cell) for cell in cells), style="bold reverse" if lit else "")
        if not self._rows:
            table.add_row("", Text("nothing is within reach yet"), "", "", "")
        return table


class _Row:
    """One port of the table."""

    def __init__(self) -> None:
        self.title = ""
        self.state = "opening"
        self.lit = 0.0
        self.count = 0
        self.last = ""

    @property
    def shown(self) -> str:
        """What came last while it is listened to; else why not."""
        return self.last if self.last and self.state == "listening" else self.state


def _nothing() -> None:
    """Nobody is to be told of the end."""
