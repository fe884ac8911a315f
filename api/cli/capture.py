"""``witnessmark capture``: one port, no service, nothing stored: its bytes, or its readings."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from api.cli.line import SerialLine, line_options
from api.cli.output import clear_errors, emit, json_option
from capture.errors import BenchError, CaptureError, Problem
from capture.reading import Captured, DeviceState, LiveTorque, Pull, Undecodable

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
    "notify": "--notify",
    "write": "--write",
}
"""The last word of a key in bench.toml, and where it comes from here."""
MENDS = {
    'write it in quotes, like "0.001".': "write it like 0.001.",
    'add a line like channel = "1".': "give it, like --channel 1.",
}
"""What is mended in a file in one way, and on a command line in another."""
FOR_BYTES = "decimal-line"
"""Any profile of a cable will do where none is used."""


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
    notify: str | None = None
    write: str | None = None


@click.command("capture", options_metavar="[OPTIONS]")
@click.argument("port")
@click.argument("word", required=False, metavar="[PROFILE]")
@click.option("--profile", "named", metavar="PROFILE", help="Read with it, in place of PROFILE.")
@click.option("--unit", help="Unit where the profile's messages name none.  [default: mm]")
@click.option("--resolution", help="Of the instrument.  [default: 0.001]")
@click.option("--channel", help="Of the instrument, where the port carries several.")
@line_options
@click.option("--notify", metavar="UUID", help="Bluetooth: only what this characteristic sends.")
@click.option("--write", metavar="UUID", help="Bluetooth: the one that requests are written to.")
@click.option("--save", type=click.Path(path_type=Path), help="Bytes are added to this file.")
@click.option(
    "--gap",
    type=click.FloatRange(1, 60_000),
    default=50.0,
    show_default=True,
    help="Milliseconds of silence that end a burst of bytes.",
)
@click.option("--count", type=click.IntRange(1), help="Stop after this many bursts or readings.")
@json_option
@clear_errors
def command(
    port: str,
    word: str | None,
    named: str | None,
    unit: str | None,
    resolution: str | None,
    channel: str | None,
    line: SerialLine,
    notify: str | None,
    write: str | None,
    save: Path | None,
    gap: float,
    count: int | None,
    as_json: bool,
) -> None:
    """Print what comes from one PORT, as it comes, until Ctrl-C.

    PORT is a device path, a COM name, a socket:// or rfc2217:// address, ble://ADDRESS or
    ble://name.

    Without a PROFILE: the bytes, one JSON line for each burst, with the time of its first byte,
    for sending to someone else or to 'witnessmark learn' and 'decode'; --save keeps them. With a
    PROFILE (a shipped name, or a file): the readings; nothing is stored.
    """
    if word is not None and named is not None:
        raise click.UsageError("the profile is named twice: give PROFILE or --profile.")
    profile = named if named is not None else word
    if profile is None:
        _refuse({"--unit": unit, "--resolution": resolution, "--channel": channel}, _NO_PROFILE)
        _refuse_keys(port)
        settings = Line(port, FOR_BYTES, "mm", "1", None, *line, notify, write)
        from api.cli.record import record

        record(one_port(settings).ports[0].settings, gap / 1000, save, count)
        return
    _refuse({"--save": save}, "only bytes are saved: leave the profile out.")
    read = Line(port, profile, unit or "mm", resolution or "0.001", channel, *line, notify, write)
    bench = one_port(read)
    click.echo(NOTICE, err=True)
    try:
        asyncio.run(_listen(bench, Printer(count, as_json=as_json)))
    except KeyboardInterrupt:
        return


_NO_PROFILE = "it says how readings are shown: name a PROFILE, or leave it out."


def _refuse(options: dict[str, object], why: str) -> None:
    for name, value in options.items():
        if value is not None:
            raise click.UsageError(f"{name}: {why}")


def _refuse_keys(port: str) -> None:
    from drivers.keys.address import is_keys

    if is_keys(port):
        raise CaptureError(
            f"PORT: {port} types keys, which are no bytes. Mend: name a PROFILE, and its readings "
            "are shown."
        )


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
            *(
                f"{name} = {_quoted(uuid)}"
                for name, uuid in (("notify", line.notify), ("write", line.write))
                if uuid is not None
            ),
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

    def take(self, items: Sequence[Captured]) -> bool:
        """Prints all of them."""
        for item in items:
            if self.enough.is_set():
                break
            self._print(item)
        return True

    def _print(self, item: Captured) -> None:
        if isinstance(item, Undecodable):
            if self._json:
                body = {"ok": False, "code": item.code, "detail": item.detail}
                emit({**body, "raw": item.raw.hex(), "at": item.stamp.at})
            else:
                click.echo(f"{item.stamp.at}  {item.raw.hex()}: {item.detail} ({item.code})")
            return
        if isinstance(item, Pull):
            self._print_pull(item)
        elif self._json:
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

    def _print_pull(self, pull: Pull) -> None:
        if self._json:
            body = {"ok": True, "torque": pull.torque, "angle": pull.angle, "unit": pull.unit}
            more = {"interval_us": pull.interval_us, "flags": pull.flags, "at": pull.stamp.at}
            emit({**body, **more, "incomplete": pull.incomplete})
            return
        peak = max(map(Decimal, pull.torque))
        size = f"{len(pull.torque)} samples, up to {peak} {pull.unit}"
        missing = f"  incomplete: {pull.incomplete}" if pull.incomplete else ""
        click.echo(f"{pull.stamp.at}  pull of {size}{missing}")

    async def room(self) -> None:
        """There is always room."""

    def device(self, state: DeviceState) -> None:
        """Says what the connection does, beside the readings; each state once, not every try."""
        if state.state in ("opening", "connecting", self._said):
            return
        self._said = state.state
        words = state.detail or "the port is open"
        click.echo(words if state.state == "scanning" else f"{state.state}: {words}", err=True)

    def torque(self, live: LiveTorque) -> None:
        """A pull is shown when it has ended."""
