"""``witnessmark decode``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from api.cli.output import FOUND_WRONG, clear_errors, emit, json_option
from capture.errors import CaptureError, DecodingError


@click.command("decode")
@click.argument("profile")
@click.argument("file", type=click.Path(path_type=Path), default="-")
@click.option("--hex", "as_hex", is_flag=True, help="The input is hexadecimal text, not bytes.")
@json_option
@clear_errors
def command(profile: str, file: Path, as_hex: bool, as_json: bool) -> None:
    """Read bytes of an instrument with a PROFILE (a shipped name, or a file).

    FILE holds what came over the wire; - or nothing reads standard input. Exit code 1 when any
    of it makes no reading.
    """
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


def decoded(profile: str, data: bytes) -> list[dict[str, Any]]:
    """One dict for each message or fault in ``data``, in its order. Raises BenchError."""
    from drivers.profiles.load import load_profile, load_shipped, shipped_names

    shipped = profile in shipped_names()
    loaded = load_shipped(profile) if shipped else load_profile(Path(profile))
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
    try:
        return sys.stdin.buffer.read() if str(file) == "-" else file.read_bytes()
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
