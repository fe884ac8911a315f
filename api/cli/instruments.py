"""``witnessmark instruments``: what is within reach, and the lines of bench.toml for it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from api.cli.line import SerialLine, line_options
from api.cli.output import clear_errors, emit, ended, json_option

if TYPE_CHECKING:
    from capture.errors import TransportError
    from drivers.bench import Bench
    from drivers.reach.known import Known
    from drivers.reach.listing import Row

EMPTY = {
    "Serial ports": "None is known on this computer. Is the cable or receiver plugged in?",
    "Keyboards and pedals": "",
    "Bluetooth": "No device was heard. Switch the instrument on, or press its button; then again.",
}


@click.command("instruments")
@click.option("--bench", type=click.Path(path_type=Path), help="A bench.toml: marks what is in it.")
@click.option(
    "--seconds",
    type=click.FloatRange(0.1, 600),
    default=5.0,
    show_default=True,
    help="How long Bluetooth devices are listened for.",
)
@click.option("--no-bluetooth", is_flag=True, help="Leave Bluetooth alone.")
@click.option("--all", "everything", is_flag=True, help="Also what has no name or is far away.")
@click.option("--watch", is_flag=True, help="Light the row of the gauge whose button is pressed.")
@line_options
@json_option
@clear_errors
def command(
    bench: Path | None,
    seconds: float,
    no_bluetooth: bool,
    everything: bool,
    watch: bool,
    line: SerialLine,
    as_json: bool,
) -> None:
    """List what is within reach: serial ports, keyboards, pedals, Bluetooth devices.

    Each comes with what it seems to be and the lines to paste into bench.toml. Bluetooth devices
    near by are asked what they offer; nothing is stored and no serial port is opened.

    With --watch ports are opened (with --baud and the like, or as the bench says) and Bluetooth
    devices near by are connected, until Ctrl-C.
    """
    from drivers.bench import load_bench

    known = load_bench(bench) if bench is not None else None
    if watch:
        from api.cli.watch import watch as run

        run(known, line, None if no_bluetooth else seconds, as_json=as_json)
        return
    found = Found(known)
    if not no_bluetooth:
        found.ask_radio(seconds, everything, quiet=as_json)
    if as_json:
        emit(found.to_body())
    else:
        found.tell(everything)


class Found:
    """All that was found, and the bench it is held against."""

    def __init__(self, bench: Bench | None) -> None:
        from drivers.keys.attached import attached
        from drivers.reach.cables import cables
        from drivers.reach.known import Known
        from drivers.reach.listing import of_cables, of_keyboards
        from drivers.transports.ports import system_ports

        self._bench = bench
        self._known = Known(bench)
        self._cables = of_cables(cables(system_ports()), self._known)
        self._keyboards = of_keyboards(attached(), self._known)
        self._radios: list[Row] | None = None
        self._trouble: TransportError | None = None

    def ask_radio(self, seconds: float, everything: bool, *, quiet: bool) -> None:
        """Listens for Bluetooth devices and asks those near by what they offer."""
        import asyncio

        from capture.errors import TransportError

        if not quiet and sys.stderr.isatty():
            click.echo(f"Listening for Bluetooth devices for {seconds:g} s…", err=True)
        try:
            self._radios = asyncio.run(_radios(seconds, everything, self._known, quiet))
        except TransportError as error:
            self._trouble = error

    def to_body(self) -> dict[str, Any]:
        """For ``--json``."""
        trouble = self._trouble
        return {
            "ports": [row.to_body() for row in self._cables],
            "keyboards": [row.to_body() for row in self._keyboards],
            "bluetooth": {
                "listened": self._radios is not None,
                "trouble": trouble and {"what": str(trouble), "mend": trouble.mend},
                "devices": [row.to_body() for row in self._radios or ()],
            },
            "instruments": self._instruments(),
        }

    def tell(self, everything: bool) -> None:
        """For a person."""
        _section("Serial ports", self._cables)
        if self._keyboards:
            _section("Keyboards and pedals", self._keyboards)
        if self._radios is not None:
            shown = [row for row in self._radios if everything or not row.hidden]
            _section("Bluetooth", shown)
            if len(shown) < len(self._radios):
                more = len(self._radios) - len(shown)
                click.echo(f"\n  {more} more heard, without a name or far away: --all lists them.")
        elif self._trouble is not None:
            click.echo("\nBluetooth")
            click.echo(f"  {_sentence(self._trouble)}")
        if self._bench is not None:
            self._tell_bench()

    def _tell_bench(self) -> None:
        click.echo(f"\nOn the bench: {self._bench.title if self._bench else ''}")
        for one in self._instruments():
            due = one["calibration"]["due"] if one["calibration"] else "no certificate"
            mark = "  SIMULATED" if one["simulated"] else ""
            reach = "  NOT FOUND" if one["within_reach"] is False else ""
            click.echo(
                f"  {one['id']}  {one['kind']}  on {one['port']}  profile {one['profile']}  "
                f"{one['resolution']} {one['unit']}  calibration due {due}{mark}{reach}"
            )

    def _instruments(self) -> list[dict[str, Any]]:
        """What the bench says, and whether it was found; None where that was not looked for."""
        from drivers.ble.address import is_ble

        if self._bench is None:
            return []
        missing = {port.settings.id: port for port in self._known.missing()}
        absent = {
            instrument.id: None if is_ble(port.settings.device) and self._radios is None else False
            for port in missing.values()
            for instrument in port.instruments
        }
        sought = {one.id for port in self._bench.ports for one in port.instruments}
        network = {
            one.id
            for port in self._bench.ports
            if port.settings.is_url and not is_ble(port.settings.device)
            for one in port.instruments
        }
        bodies = []
        for instrument in self._bench.instruments:
            listed = instrument.id in sought and instrument.id not in network
            reach = absent.get(instrument.id, True) if listed else None
            bodies.append({**instrument.to_body(), "within_reach": reach})
        return bodies


async def _radios(seconds: float, everything: bool, known: Known, quiet: bool) -> list[Row]:
    from capture.errors import TransportError
    from drivers.ble.radio import Radio
    from drivers.reach.listing import of_radio
    from drivers.reach.survey import Inside, look, survey

    radio, rows = Radio(), []
    for one in await survey(radio, seconds):
        inside: Inside | TransportError | None = None
        if (one.is_near or everything) and known.on_radio(one.address, one.name) is None:
            if not quiet:
                click.echo(f"Asking {one.name or one.address} what it offers…", err=True)
            try:
                inside = await look(radio, one)
            except TransportError as error:
                inside = error
        rows.append(of_radio(one, inside, known))
    return rows


def _section(title: str, rows: list[Row]) -> None:
    click.echo(f"\n{title}")
    if not rows:
        click.echo(f"  {EMPTY[title]}")
    for row in rows:
        _tell_row(row)


def _tell_row(row: Row) -> None:
    mark = f"  ON YOUR BENCH: {', '.join(row.instruments)}" if row.instruments else ""
    click.echo(f"\n  {'  '.join(filter(None, (row.port, row.title)))}{mark}")
    for words in row.seems:
        click.echo(f"    {words}")
    if row.said:
        click.echo(f"    {'; '.join(row.said)}")
    if row.trouble is not None:
        click.echo(f"    ! {_sentence(row.trouble)}")
    if row.lines and not row.instruments:
        click.echo("    for bench.toml (write something for every ?):")
        for line in row.lines.splitlines():
            click.echo(f"        {line}".rstrip())


def _sentence(error: TransportError) -> str:
    return ended(f"{ended(str(error))} Mend: {error.mend}" if error.mend else str(error))
