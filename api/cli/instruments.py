"""``witnessmark instruments``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from api.cli.output import clear_errors, emit, json_option


@click.command("instruments")
@click.option("--bench", type=click.Path(path_type=Path), help="A bench.toml to list as well.")
@json_option
@clear_errors
def command(bench: Path | None, as_json: bool) -> None:
    """List the serial ports of this machine, and what a bench.toml says hangs on them."""
    ports = _ports()
    known = _instruments(bench) if bench is not None else []
    if as_json:
        emit({"ports": ports, "instruments": known})
        return
    for port in ports:
        serial = f"  serial number {port['serial_number']}" if port["serial_number"] else ""
        click.echo(f"{port['device']}  {port['description']}{serial}")
    if not ports:
        click.echo("No serial port is known on this machine. Is the cable or receiver plugged in?")
    for one in known:
        due = one["calibration"]["due"] if one["calibration"] else "no certificate"
        mark = "  SIMULATED" if one["simulated"] else ""
        click.echo(
            f"{one['id']}  {one['kind']}  on {one['port']}  profile {one['profile']}  "
            f"{one['resolution']} {one['unit']}  calibration due {due}{mark}"
        )


def _ports() -> list[dict[str, Any]]:
    from serial.tools.list_ports import comports

    return [
        {
            "device": port.device,
            "description": port.description,
            "usb_vendor": port.vid,
            "usb_product": port.pid,
            "serial_number": port.serial_number,
        }
        for port in sorted(comports())
    ]


def _instruments(bench: Path) -> list[dict[str, Any]]:
    from drivers.bench import load_bench

    return [instrument.to_body() for instrument in load_bench(bench).instruments]
