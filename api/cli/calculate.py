"""``witnessmark calculate``."""

from __future__ import annotations

import json
import sys
from difflib import get_close_matches
from pathlib import Path

import click

from api.calculations import CALCULATIONS
from api.cli.output import clear_errors, emit, ended, json_option
from capture.errors import CaptureError


@click.command("calculate")
@click.argument("name", required=False)
@click.argument("file", type=click.Path(path_type=Path), default="-")
@click.option("--example", is_flag=True, help="Print an input that works.")
@click.option("--form", "schema", is_flag=True, help="Print the JSON schema of the input.")
@json_option
@clear_errors
def command(name: str | None, file: Path, example: bool, schema: bool, as_json: bool) -> None:
    """Carry out the calculation NAME; without a name, list them all.

    FILE holds its input as JSON; - or nothing reads standard input. Numbers are text, digits as
    read: "25.400". Nothing is recorded.
    """
    if name is None:
        _list(as_json)
        return
    if name not in CALCULATIONS:
        raise CaptureError(_unknown(name))
    from api.calculations.run import form_of

    if example:
        click.echo(json.dumps(form_of(name).example, ensure_ascii=False, indent=2))
    elif schema:
        click.echo(json.dumps(form_of(name).model_json_schema(), ensure_ascii=False, indent=2))
    else:
        _carry_out(name, file, as_json)


def _list(as_json: bool) -> None:
    if as_json:
        from api.calculations.run import listed

        emit({"calculations": listed()})
        return
    width = max(map(len, CALCULATIONS))
    for name, entry in CALCULATIONS.items():
        click.echo(f"{name:<{width}}  {entry.sentence}")
    click.echo("\n'witnessmark calculate NAME --example' prints an input that works.")


def _unknown(name: str) -> str:
    near = get_close_matches(name.lower(), CALCULATIONS, n=1, cutoff=0.4)
    hint = f"did you mean '{near[0]}'? " if near else ""
    return (
        f"there is no calculation '{name}'. Mend: {hint}'witnessmark calculate' lists those there "
        "are."
    )


def _carry_out(name: str, file: Path, as_json: bool) -> None:
    from pydantic import ValidationError

    from api.calculations.run import calculate, messages

    data = _read(name, file)
    try:
        answer = calculate(name, data)
    except ValidationError as error:
        lines = [
            f"{key or 'the input'}: {ended(message)} Mend: {ended(mend)}"
            for key, message, mend in messages(error)
        ]
        raise CaptureError("\n".join(lines)) from None
    if as_json:
        emit(answer)
    else:
        from api.cli.table import readable

        click.echo(readable(answer))


def _read(name: str, file: Path) -> bytes:
    if str(file) != "-":
        try:
            return file.read_bytes()
        except OSError as error:
            raise CaptureError(
                f"{file} cannot be read: {error.strerror}. Mend: check its name."
            ) from None
    data = sys.stdin.buffer.read()
    if not data.strip():
        raise CaptureError(
            f"there is no input on standard input. Mend: 'witnessmark calculate {name} --example' "
            "prints one that works; change its numbers and send it here, or name its file."
        )
    return data
