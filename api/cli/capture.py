"""``witnessmark capture``: one port, no service, nothing stored."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from api.cli.output import clear_errors, emit, json_option
from capture.errors import BenchError, CaptureError, Problem
from capture.reading import DeviceState, Reading, Undecodable

if TYPE_CHECKING:
    from drivers.bench import Bench

NOTICE = "Nothing is stored: this only shows what arrives. 'witnessmark serve' keeps readings."

BENCH = "the options"
"""What the drivers call the bench that is made of the options; no person sees it."""
OPTIONS = {
    "device": "PORT",
    "url": "PORT",
    "port": "PORT",
    "profile": "PROFILE",
    "unit": "--unit",
    "resolution": "--resolution",
    "channel": "--channel",
    "baud": "--baud",
    "data_bits": "--data-bits",
    "parity": "--parity",
    "stop_bits": "--stop-bits",
}
"""The last word of a key in bench.toml, and where it comes from here."""
MENDS = {
    'write it in quotes, like "0.001".': "write it like 0.001.",
    'add a line like channel = "1".': "give it, like --channel 1.",
}
"""What is mended in a file in one way, and on a command line in another."""


class Line(NamedTuple):
    """How the port is opened and what is on it: the options, by their names in bench.toml."""

    device: str
    profile: str
    unit: str
    resolution: str
    channel: str | None
    baud: int
    data_bits: int
    parity: str
    stop_bits: str


@click.command("capture")
@click.argument("port")
@click.argument("profile")
@click.option("--unit", default="mm", show_default=True, help="Unit where the line names none.")
@click.option("--resolution", default="0.001", show_default=True, help="Of the instrument.")
@click.option("--baud", type=click.IntRange(50, 4_000_000), default=9600, show_default=True)
@click.option(
    "--data-bits", type=click.Choice(["5", "6", "7", "8"]), default="8", show_default=True
)
@click.option(
    "--parity", type=click.Choice(["none", "even", "odd"]), default="none", show_default=True
)
@click.option("--stop-bits", type=click.Choice(["1", "1.5", "2"]), default="1", show_default=True)
@click.option("--channel", help="Of the instrument, where the port carries several.")
@click.option("--count", type=click.IntRange(1), help="Stop after this many readings.")
@json_option
@clear_errors
def command(
    port: str,
    profile: str,
    unit: str,
    resolution: str,
    baud: int,
    data_bits: str,
    parity: str,
    stop_bits: str,
    channel: str | None,
    count: int | None,
    as_json: bool,
) -> None:
    """Print the readings of one PORT, read with a PROFILE, as they come. Stores nothing.

    PORT is a device path, a COM name, or a socket:// or rfc2217:// address.
    """
    line = Line(port, profile, unit, resolution, channel, baud, int(data_bits), parity, stop_bits)
    bench = one_port(line)
    click.echo(NOTICE, err=True)
    try:
        asyncio.run(_listen(bench, Printer(count, as_json=as_json)))
    except KeyboardInterrupt:
        return


def one_port(line: Line) -> Bench:
    """A bench of one instrument. Raises CaptureError that names options, not a file."""
    from drivers.bench import parse_bench

    try:
        return parse_bench(_toml(line), BENCH, Path.cwd())
    except BenchError as error:
        told = [_told(problem) for problem in error.problems if not _follows(problem)]
        raise CaptureError("\n".join(told) or str(error)) from None


def _follows(problem: Problem) -> bool:
    """Whether it only follows from another: a wrong instrument leaves its port without one."""
    return problem.file == BENCH and problem.key.rpartition(".")[2] == "id"


def _told(problem: Problem) -> str:
    if problem.file != BENCH:  # a profile, which is a file of its own
        return str(problem)
    word = problem.key.rpartition(".")[2]
    mend = MENDS.get(problem.mend, problem.mend)
    return f"{OPTIONS.get(word, word)}: {problem.message} Mend: {mend}"


def _toml(line: Line) -> str:
    text = {
        "profile": line.profile,
        "unit": line.unit,
        "resolution": line.resolution,
        "channel": line.channel,
    }
    lines = [f"{name} = {_quoted(value)}" for name, value in text.items() if value is not None]
    at = "url" if "://" in line.device else "device"
    return "\n".join(
        [
            'title = "one port"',
            f'[[port]]\nid = "the-port"\n{at} = {_quoted(line.device)}',
            f"baud = {line.baud}\ndata_bits = {line.data_bits}",
            f"parity = {_quoted(line.parity)}\nstop_bits = {line.stop_bits}",
            '[[instrument]]\nid = "instrument"\nkind = "instrument"\nport = "the-port"',
            *lines,
        ]
    )


def _quoted(text: str) -> str:
    """As a TOML basic string; JSON's is one, for what a path, a name or a number can hold."""
    import json

    return json.dumps(text, ensure_ascii=False)


async def _listen(bench: Bench, sink: Printer) -> None:
    from capture.clock import SystemClock
    from drivers.devices import Devices

    devices = Devices(bench, sink, SystemClock())
    await devices.start()
    try:
        await sink.enough.wait()
    finally:
        await devices.stop()


class Printer:
    """A sink that prints."""

    def __init__(self, count: int | None, *, as_json: bool) -> None:
        self._left = count
        self._json = as_json
        self._said = ""
        self.enough = asyncio.Event()

    def take(self, items: Sequence[Reading | Undecodable]) -> bool:
        """Prints all of them."""
        for item in items:
            if self.enough.is_set():
                break
            self._print(item)
        return True

    def _print(self, item: Reading | Undecodable) -> None:
        if isinstance(item, Undecodable):
            if self._json:
                body = {"ok": False, "code": item.code, "detail": item.detail}
                emit({**body, "raw": item.raw.hex(), "at": item.stamp.at})
            else:
                click.echo(f"{item.stamp.at}  {item.raw.hex()}: {item.detail} ({item.code})")
            return
        if self._json:
            reading = {"ok": True, "digits": item.digits, "unit": item.unit}
            emit({**reading, "flags": item.flags, "raw": item.raw.hex(), "at": item.stamp.at})
        else:
            click.echo(
                f"{item.stamp.at}  {item.digits} {item.unit}  {' '.join(item.flags)}".rstrip()
            )
        if self._left is not None:
            self._left -= 1
            if self._left == 0:
                self.enough.set()

    async def room(self) -> None:
        """There is always room."""

    def device(self, state: DeviceState) -> None:
        """Says what the connection does, beside the readings; each state once, not every try."""
        if state.state in ("opening", self._said):
            return
        self._said = state.state
        click.echo(f"{state.state}: {state.detail or 'the port is open'}", err=True)
