"""``witnessmark decode``."""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

import click

from api.cli.output import FOUND_WRONG, clear_errors, emit, json_option
from capture.errors import CaptureError, DecodingError


@click.command("decode", options_metavar="[OPTIONS]")
@click.argument("words", nargs=-1, metavar="[PROFILE] [FILE]")
@click.option("--profile", "named", metavar="PROFILE", help="The profile, in place of PROFILE.")
@click.option("--hex", "as_hex", is_flag=True, help="The input is hexadecimal text, not bytes.")
@click.option(
    "--hex-lines",
    is_flag=True,
    help="Each line of the input is one message in hexadecimal, or a line of 'capture'; one JSON "
    "object a line comes out, with value and unit, or error.",
)
@json_option
@clear_errors
def command(
    words: tuple[str, ...], named: str | None, as_hex: bool, hex_lines: bool, as_json: bool
) -> None:
    """Read bytes of an instrument with a PROFILE (a shipped name, or a file).

    FILE holds what came over the wire; - or nothing reads standard input. Exit code 1 when any
    of it makes no reading.
    """
    profile, file = _arguments(words, named)
    if hex_lines and as_hex:
        raise click.UsageError("--hex and --hex-lines are two ways of reading: name one of them.")
    if hex_lines:
        if not _lines(profile, file):
            raise SystemExit(FOUND_WRONG)
        return
    data = _hex(_read(file)) if as_hex else _read(file)
    if not data:
        source = "standard input" if str(file) == "-" else file
        raise CaptureError(
            f"there is nothing to decode: {source} is empty. Mend: give the bytes that came over "
            "the wire, in a file or on standard input."
        )
    results = decoded(profile, data)
    for result in results:
        if as_json:
            emit(result)
        elif result["ok"]:
            unit, flags = result["unit"] or "", " ".join(result["flags"])
            channel = f"  channel {result['channel']}" if result["channel"] else ""
            click.echo(f"{result['digits']} {unit}{channel}  {flags}".rstrip())
        else:
            click.echo(f"{result['raw']}: {result['detail']} ({result['code']})")
    if any(not result["ok"] for result in results):
        raise SystemExit(FOUND_WRONG)


def _arguments(words: tuple[str, ...], named: str | None) -> tuple[str, Path]:
    """The profile and the file, whichever way the profile is named."""
    rest = list(words)
    if named is None:
        if not rest:
            raise click.UsageError(
                "no profile is named: give a shipped name or a file, as PROFILE or --profile."
            )
        named = rest.pop(0)
    if len(rest) > 1:
        raise click.UsageError(f"{rest[1]!r} is one word too many: one file is read at a time.")
    return named, Path(rest[0] if rest else "-")


def _lines(profile: str, file: Path) -> bool:
    """Prints what each line of hexadecimal says; whether all of them said a value."""
    loaded = _loaded(profile)
    decode = loaded.decoding.decoder(*loaded.framing.edges)
    sound = True
    with _opened(file) as lines:
        for line in lines:
            if line.strip() and not _is_beside(line):
                said = of_line(loaded, decode, line)
                sound = sound and "error" not in said
                emit(said)
    return sound


def of_line(loaded: Any, decode: Any, line: bytes) -> dict[str, str | None]:
    """``value`` and ``unit`` of the one message that the line holds in hexadecimal, plainly or as
    ``hex`` of a line of 'witnessmark capture', or ``error``.

    Bytes around the message that make no reading (an echoed request, a second line of the same
    press) are passed over.
    """
    try:
        raw = bytes.fromhex(_captured(line) or line.decode("ascii"))
    except ValueError:
        return {"error": "the line is not hexadecimal: write two digits a byte, as in 32 35 2e"}
    framer = loaded.framing.framer()
    items = [*framer.feed(raw, 0), *framer.drain()]
    results = [
        _message(decode, item)
        if isinstance(item, bytes)
        else _fault(item.raw, item.code, item.detail)
        for item in items
    ]
    found = [result for result in results if result["ok"]]
    if len(found) == 1:
        return {"value": found[0]["digits"], "unit": found[0]["unit"]}
    if found:
        return {"error": f"the line holds {len(found)} readings, not one"}
    return {"error": results[-1]["detail"] if results else "the line holds no message"}


def _captured(line: bytes) -> str | None:
    """The hexadecimal in a line of 'witnessmark capture'; None where it is no such line."""
    row = _row(line)
    return row["hex"] if isinstance(row.get("hex"), str) else None


def _is_beside(line: bytes) -> bool:
    """Whether it is a capture's head or remark, which holds no bytes."""
    row = _row(line)
    return "hex" not in row and ("capture" in row or "remark" in row)


def _row(line: bytes) -> dict[str, Any]:
    if not line.lstrip().startswith(b"{"):
        return {}
    try:
        row = json.loads(line)
    except ValueError:
        return {}
    return row if isinstance(row, dict) else {}


def _loaded(profile: str) -> Any:
    from drivers.profiles.load import load_profile, load_shipped, shipped_names

    shipped = profile in shipped_names()
    return load_shipped(profile) if shipped else load_profile(Path(profile))


def decoded(profile: str, data: bytes) -> list[dict[str, Any]]:
    """One dict for each message or fault in ``data``, in its order. Raises BenchError."""
    loaded = _loaded(profile)
    framer, decode = loaded.framing.framer(), loaded.decoding.decoder(*loaded.framing.edges)
    results = []
    for item in [*framer.feed(data, 0), *framer.drain()]:
        if isinstance(item, bytes):
            results.append(_message(decode, item))
        else:
            results.append(_fault(item.raw, item.code, item.detail))
    return results


def _message(decode: Any, frame: bytes) -> dict[str, Any]:
    try:
        digits, unit, flags, channel = decode(frame)
    except DecodingError as error:
        return _fault(frame, error.code, str(error))
    return {
        "ok": True,
        "digits": digits,
        "unit": unit,
        "flags": list(flags),
        "channel": channel,
        "raw": frame.hex(),
    }


def _fault(raw: bytes, code: str, detail: str) -> dict[str, Any]:
    return {"ok": False, "code": code, "detail": detail, "raw": raw.hex()}


def _read(file: Path) -> bytes:
    with _opened(file) as source:
        return source.read()


@contextlib.contextmanager
def _opened(file: Path) -> Iterator[IO[bytes]]:
    if str(file) == "-":
        yield sys.stdin.buffer
        return
    try:
        with file.open("rb") as source:
            source.peek(1)
            yield source
    except OSError as error:
        raise CaptureError(
            f"{file} cannot be read: {error.strerror}. Mend: check its name."
        ) from None


def _hex(data: bytes) -> bytes:
    try:
        return bytes.fromhex(data.decode("ascii"))
    except ValueError as error:
        raise CaptureError(
            f"the input is not hexadecimal: {error}. Mend: two digits a byte, as in 32 35 2e, or "
            "leave --hex out for raw bytes."
        ) from None
