"""``witnessmark learn``: an unknown gauge's profile from a few presses at known sizes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from api.cli.output import clear_errors, emit, json_option
from capture.errors import CaptureError, UnitError

if TYPE_CHECKING:
    from drivers.learn.learn import Learned
    from drivers.learn.press import Press

NOT_SURE = 3
"""Exit code: something fits, or nothing, but nothing is certain."""
SILENCE = 0.4
"""Seconds without a byte after which what came was one press."""
ASKED = (
    "closed jaws, or zero (type 0 and the unit)",
    "a gauge block or another size that you know, a large one",
    "another size that you know, not a round one if you can",
    "a negative size: zero the gauge on a block, then measure something smaller",
    "any size after switching the gauge's unit (type 'switched in' or the like first), "
    "if it has a switch",
)


@click.command("learn")
@click.argument("port", required=False)
@click.option(
    "--capture",
    "capture_file",
    type=click.Path(path_type=Path),
    help='Presses from a file, one a line: {"at": "10 mm", "hex": "…"}, "unit" where switched.',
)
@click.option("--save", type=click.Path(path_type=Path), help="Where the profile is written.")
@click.option("--baud", type=click.IntRange(50, 4_000_000), default=9600, show_default=True)
@click.option("--data-bits", type=click.Choice(["7", "8"]), default="8", show_default=True)
@click.option(
    "--parity", type=click.Choice(["none", "even", "odd"]), default="none", show_default=True
)
@click.option("--stop-bits", type=click.Choice(["1", "2"]), default="1", show_default=True)
@json_option
@clear_errors
def command(
    port: str | None,
    capture_file: Path | None,
    save: Path | None,
    baud: int,
    data_bits: str,
    parity: str,
    stop_bits: str,
    as_json: bool,
) -> None:
    """Learn an unknown gauge on PORT (a device, a COM name, a socket:// address).

    It asks for presses at sizes you know, tells what it found and foretells the next press.
    With --capture it learns from presses in a file. Exit code 0 when sure, 3 when not: the
    profile is then a first guess, is marked so, and is not saved.
    """
    if (port is None) == (capture_file is None):
        raise CaptureError("give either PORT or --capture FILE, one of them.")
    if capture_file is not None:
        from drivers.learn.learn import learn

        learned = learn(_presses(capture_file))
    else:
        assert port is not None
        learned = _at_the_port(port, (baud, int(data_bits), parity, float(stop_bits)), as_json)
    saved = _saved(learned, save)
    if as_json:
        emit(_body(learned, saved))
    else:
        _tell(learned, saved)
    if not learned.sure:
        raise SystemExit(NOT_SURE)


def _presses(file: Path) -> list[Press]:
    from drivers.learn.press import press_from

    try:
        lines = file.read_text(encoding="utf-8").splitlines()
    except UnicodeDecodeError:
        raise CaptureError(f"{file} is not UTF-8 text. Mend: save it as UTF-8.") from None
    found = []
    for number, line in enumerate(lines, 1):
        if not line.strip():
            continue
        try:
            found.append(press_from(json.loads(line)))
        except json.JSONDecodeError as error:
            raise CaptureError(
                f"{file}:{number}: is no JSON: {error.msg}. Mend: one press a line, like "
                '{"at": "10 mm", "hex": "32 35 0D"}.'
            ) from None
        except (ValueError, UnitError) as error:
            raise CaptureError(f"{file}:{number}: {error}") from None
    return found


def _saved(learned: Learned, save: Path | None) -> bool:
    """Writes the profile where it is sure; says whether it did."""
    if save is None or not learned.sure or learned.profile is None:
        return False
    save.write_text(learned.profile, encoding="utf-8")
    return True


def _body(learned: Learned, saved: bool) -> dict[str, Any]:
    return {
        "sure": learned.sure,
        "found": learned.found,
        "reasons": learned.reasons,
        "next_press": learned.next_press,
        "saved": saved,
        "profile": learned.profile,
    }


def _tell(learned: Learned, saved: bool) -> None:
    for line in learned.found:
        click.echo(line)
    if learned.sure:
        click.echo("Sure: every press is explained, and no other explanation is left.")
        if not saved and learned.profile is not None:
            click.echo(f"\n{learned.profile}")
        return
    click.echo("Not sure:" if learned.found else "Nothing learned:")
    for reason in learned.reasons:
        click.echo(f"  {reason}")
    if learned.next_press:
        click.echo(f"What would decide: {learned.next_press}.")


def _at_the_port(port: str, line: tuple[int, int, str, float], as_json: bool) -> Learned:
    """Asks for presses, one after another, until it is sure or the person has had enough."""
    from drivers.learn.learn import learn

    presses: list[Press] = []
    learned = learn(presses)
    heard = _Heard(port, line)
    switched: str | None = None
    try:
        while True:
            wish = ASKED[len(presses)] if len(presses) < len(ASKED) else learned.next_press
            click.echo(f"\nPress {len(presses) + 1}: {wish or 'any size, to try it'}.", err=True)
            said = click.prompt("Size with its unit (or 'done')", err=True).strip()
            if said == "done":
                return learned
            if said.startswith("switched"):
                switched = said.removeprefix("switched").strip() or None
                continue
            press = _one_press(heard, said, switched, learned)
            if press is None:
                continue
            presses.append(press)
            learned = learn(presses)
            if not as_json:
                _so_far(learned)
            if learned.sure and len(presses) >= len(ASKED):
                return learned
    except (click.Abort, KeyboardInterrupt):
        return learned
    finally:
        heard.close()


def _one_press(heard: _Heard, said: str, switched: str | None, learned: Learned) -> Press | None:
    """The press at the size that was typed; None where it cannot be taken."""
    from drivers.learn.press import press_of, size_of

    try:
        size, unit = size_of(said)
    except (ValueError, UnitError) as error:
        click.echo(str(error), err=True)
        return None
    foretold = learned.expected(size, unit, switched is not None) if learned.sure else None
    if foretold:
        click.echo(f"It should say {foretold}.", err=True)
    click.echo("Now press the gauge's button…", err=True)
    raw = heard.burst()
    if not raw:
        click.echo("Nothing came within a minute. Is it on, and the right port?", err=True)
        return None
    click.echo(f"{len(raw)} bytes: {raw.hex(' ')}", err=True)
    try:
        return press_of(said, raw, switched)
    except (ValueError, UnitError) as error:
        click.echo(str(error), err=True)
        return None


def _so_far(learned: Learned) -> None:
    mark = "Sure so far." if learned.sure else f"Not sure yet: {'; '.join(learned.reasons)}."
    click.echo(mark, err=True)


class _Heard:
    """An open port, read in bursts."""

    def __init__(self, device: str, line: tuple[int, int, str, float]) -> None:
        from drivers.transports.opening import open_serial
        from drivers.transports.settings import PortSettings

        baud, data_bits, parity, stop_bits = line
        settings = PortSettings(
            id=device,
            device=device,
            baud=baud,
            data_bits=data_bits,  # type: ignore[arg-type]  # one of the choices
            parity=parity,  # type: ignore[arg-type]  # one of the choices
            stop_bits=stop_bits,
        )
        self._device = device
        self._port = open_serial(settings, device)

    def burst(self, wait: float = 60.0) -> bytes:
        """What one press sends: bytes up to a silence; empty where nothing comes in ``wait``
        seconds. What came before it was called is no press and is dropped."""
        try:
            return self._burst(wait)
        except OSError as error:
            raise CaptureError(
                f"{self._device} was lost: {error}. Mend: see to its cable, and begin again."
            ) from None

    def _burst(self, wait: float) -> bytes:
        import time

        self._port.timeout = 0.05
        while self._port.read(4096):
            pass
        data = b""
        deadline = time.monotonic() + wait
        while time.monotonic() < deadline:
            chunk = self._port.read(4096)
            if chunk:
                data += chunk
                deadline = time.monotonic() + SILENCE
        return data

    def close(self) -> None:
        self._port.close()
