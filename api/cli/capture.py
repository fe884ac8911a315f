"""``witnessmark capture``: one port, no service, nothing stored."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from pathlib import Path

import click

from api.cli.output import clear_errors, emit, json_option
from capture.reading import DeviceState, Reading, Undecodable

NOTICE = "Nothing is stored: this only shows what arrives. 'witnessmark serve' keeps readings."


@click.command("capture")
@click.argument("port")
@click.argument("profile")
@click.option("--unit", default="mm", show_default=True, help="Unit where the line names none.")
@click.option("--resolution", default="0.001", show_default=True, help="Of the instrument.")
@click.option("--baud", type=click.IntRange(50, 4_000_000), default=9600, show_default=True)
@click.option("--parity", type=click.Choice(["none", "even", "odd"]), default="none")
@click.option("--count", type=click.IntRange(1), help="Stop after this many readings.")
@json_option
@clear_errors
def command(
    port: str,
    profile: str,
    unit: str,
    resolution: str,
    baud: int,
    parity: str,
    count: int | None,
    as_json: bool,
) -> None:
    """Print the readings of one PORT, read with a PROFILE, as they come. Stores nothing.

    PORT is a device path, a COM name, or a socket:// or rfc2217:// address.
    """
    import tempfile

    click.echo(NOTICE, err=True)
    with tempfile.TemporaryDirectory(prefix="witnessmark-") as folder:
        bench = Path(folder) / "bench.toml"
        bench.write_text(_bench(port, profile, unit, resolution, baud, parity), encoding="utf-8")
        sink = Printer(count, as_json=as_json)
        try:
            asyncio.run(_listen(bench, sink))
        except KeyboardInterrupt:
            return


def _bench(port: str, profile: str, unit: str, resolution: str, baud: int, parity: str) -> str:
    import json

    found = Path(profile)
    # JSON's text is TOML's basic string for what a path, a name or a number can hold.
    values = {
        "profile": str(found.resolve()) if found.is_file() else profile,
        "unit": unit,
        "resolution": resolution,
    }
    lines = [f"{name} = {json.dumps(value)}" for name, value in values.items()]
    return "\n".join(
        [
            'title = "one port"',
            f'[[port]]\nid = "the-port"\ndevice = {json.dumps(port)}',
            f"baud = {baud}\nparity = {json.dumps(parity)}",
            '[[instrument]]\nid = "instrument"\nkind = "instrument"\nport = "the-port"',
            *lines,
        ]
    )


async def _listen(bench: Path, sink: Printer) -> None:
    from capture.clock import SystemClock
    from drivers.bench import load_bench
    from drivers.devices import Devices

    devices = Devices(load_bench(bench), sink, SystemClock())
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
