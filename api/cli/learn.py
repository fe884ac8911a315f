"""``witnessmark learn``: an unknown gauge's profile from a few presses at known sizes."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from api.cli.output import clear_errors, emit, json_option
from capture.errors import CaptureError

if TYPE_CHECKING:
    from api.cli.learn_file import Captured
    from api.cli.learn_line import LineSearch
    from drivers.learn.hear_which import Judged
    from drivers.learn.learn import Learned
    from drivers.learn.line.setting import Setting

NOT_SURE = 3
"""Exit code: something fits, or nothing, but nothing is certain."""


class Options(NamedTuple):
    """How the port is opened."""

    baud: int | None
    data_bits: str | None
    parity: str | None
    stop_bits: str | None
    ask: str | None
    notify: str | None
    write: str | None
    wait: float


class Outcome(NamedTuple):
    """What was learned, and what is to be written down of it."""

    judged: Judged
    raws: list[bytes]
    port: str | None
    setting: Setting | None = None
    line: list[str] = []  # noqa: RUF012 # never changed
    write: str | None = None
    ask: bytes = b""
    described: tuple[str, str] | None = None
    """Where no profile is needed: the unit, and the step its values have."""


@click.command("learn")
@click.argument("port", required=False)
@click.option(
    "--capture",
    "capture_file",
    type=click.Path(path_type=Path),
    help='Presses from a file, one a line: {"at": "10 mm", "hex": "…"}, "unit" where switched; '
    "what 'witnessmark capture' wrote, once \"at\" is added.",
)
@click.option("--save", type=click.Path(path_type=Path), help="Where the profile is written.")
@click.option(
    "--baud", type=click.IntRange(50, 4_000_000), help="Of the line; found out where not given."
)
@click.option("--data-bits", type=click.Choice(["7", "8"]), help="Found out where not given.")
@click.option(
    "--parity", type=click.Choice(["none", "even", "odd"]), help="Found out where not given."
)
@click.option("--stop-bits", type=click.Choice(["1", "2"]), help="1 where not given.")
@click.option("--ask", help="Sent before each press, to a gauge that answers only when asked: text "
              "like 'V\\r', or hexadecimal like '56 0D'.")  # fmt: skip
@click.option("--notify", help="Bluetooth: the only characteristic to listen to, by its UUID.")
@click.option("--write", help="Bluetooth: the characteristic that --ask is written to.")
@click.option("--wait", type=click.FloatRange(0.5), default=60.0, show_default=True,
              help="Seconds to wait for a press.")  # fmt: skip
@json_option
@clear_errors
def command(
    port: str | None, capture_file: Path | None, save: Path | None, as_json: bool, **options: Any
) -> None:
    """Learn an unknown gauge on PORT.

    PORT is a device or COM name, a socket:// or rfc2217:// address, or ble://ADDRESS or
    ble://name. It asks for presses at sizes you know, tells what it found and foretells the next
    press. On a serial line it also finds speed and parity. With --capture it learns from presses
    in a file. Exit code 0 when sure, 3 when not: the profile is then a first guess, is marked so,
    and is not saved.
    """
    if (port is None) == (capture_file is None):
        raise CaptureError("give either PORT or --capture FILE, one of them.")
    if capture_file is not None:
        outcome = _of_file(capture_file)
    else:
        assert port is not None
        outcome = _at_the_port(port, Options(**options))
    outcome = outcome._replace(judged=_asking(outcome))
    saved = _saved(outcome.judged.learned, save)
    if as_json:
        emit(_body(outcome, saved, save))
    else:
        _tell(outcome, saved, save)
    if not outcome.judged.learned.sure:
        raise SystemExit(NOT_SURE)


def _of_file(file: Path) -> Outcome:
    from api.cli.learn_file import captured, learned_from

    said = captured(file)
    port = said.head.get("port")
    port = port if isinstance(port, str) else None
    settings = {setting for setting in said.settings if setting is not None}
    if settings and None not in said.settings and not any(name for _, name in said.presses):
        return _of_line(said, port)
    judged = learned_from(said.presses)
    of = judged.characteristic
    raws = [press.raw for press, name in said.presses if of is None or name == of]
    return Outcome(judged, raws, port)


def _of_line(said: Captured, port: str | None) -> Outcome:
    """From presses that were recorded on a line, at one setting or several."""
    import dataclasses

    from drivers.learn.hear_which import Judged
    from drivers.learn.line.judge import line_of
    from drivers.learn.line.trial import Trial

    presses = [press for press, _ in said.presses]
    settings = [setting for setting in said.settings if setting is not None]
    trials = [Trial(setting, press.raw) for setting, press in zip(settings, presses, strict=True)]
    line = line_of(trials, presses)
    learned = line.learned
    if learned.sure and line.sure is None:  # never sure of a gauge on a line that is not
        learned = dataclasses.replace(learned, sure=False, reasons=line.reasons, profile=None)
    if not learned.sure and line.next is not None and line.next not in settings:
        wish = f"record presses at {line.next.name}, in the same file or another"
        learned = dataclasses.replace(
            learned, reasons=[*learned.reasons, *line.reasons], next_press=wish
        )
    raws = [trial.raw for trial in line.trials]
    return Outcome(Judged(learned, None), raws, port, line.sure, line.reasons)


def _at_the_port(port: str, options: Options) -> Outcome:
    from drivers.ble.address import is_ble

    return _by_radio(port, options) if is_ble(port) else _by_cable(port, options)


def _by_cable(port: str, options: Options) -> Outcome:
    from api.cli.learn_line import LineSearch
    from api.cli.learning import Session, asked_bytes
    from drivers.learn.hear_serial import SerialEar
    from drivers.learn.line.setting import Form, Setting

    for name in ("notify", "write"):
        if getattr(options, name):
            raise CaptureError(f"--{name} is of Bluetooth: {port} has no characteristics.")
    form_given = (options.data_bits, options.parity, options.stop_bits) != (None, None, None)
    # the options are choices: click gives no other words
    form = Form(int(options.data_bits or 8), options.parity or "none", int(options.stop_bits or 1))  # type: ignore[arg-type]
    setting = Setting(options.baud or 9600, form)
    ear = SerialEar(port, setting)
    line: LineSearch = LineSearch(
        setting,
        speed=ear.tunable and options.baud is None,
        form=ear.tunable and not form_given,
        cable=ear.tunable,
    )
    ask = asked_bytes(options.ask) if options.ask else b""
    try:
        judged, raws = Session(ear, line, ask, options.wait).run()
    finally:
        ear.close()
    return Outcome(judged, raws, port, *line.result(), ask=ask)


def _by_radio(port: str, options: Options) -> Outcome:
    from api.cli.learn_line import LineSearch
    from api.cli.learn_radio import described, describes, told
    from api.cli.learning import Session, asked_bytes
    from drivers.learn.hear_ble import BleEar
    from drivers.learn.line.setting import Setting

    ask = asked_bytes(options.ask) if options.ask else b""
    click.echo(f"Looking for {port}…", err=True)
    ear = BleEar(port, options.notify, options.write)
    try:
        told(ear)
        if describes(ear):
            judged, step = described(ear, options.wait)
            return Outcome(judged, [], port, described=step)
        line = LineSearch(Setting(), speed=False, form=False, cable=False)
        session = Session(ear, line, ask, options.wait, lambda: ear.heard.by_itself)
        judged, raws = session.run()
    finally:
        ear.close()
    return Outcome(judged, raws, port, write=ear.write if ask else None, ask=ask)


def _asking(outcome: Outcome) -> Judged:
    """With the request in the profile, where the gauge was asked."""
    from drivers.learn.toml_text import value_text

    judged = outcome.judged
    profile = judged.learned.profile
    if not outcome.ask or profile is None:
        return judged
    import dataclasses

    plain = all(32 <= byte < 127 or byte in b"\r\n\t" for byte in outcome.ask)
    send = value_text(outcome.ask.decode("latin-1") if plain else outcome.ask)
    text = f"{profile}\n[request]\nsend = {send}\n"
    return judged._replace(learned=dataclasses.replace(judged.learned, profile=text))


def _saved(learned: Learned, save: Path | None) -> bool:
    """Writes the profile where it is sure; says whether it did."""
    if save is None or not learned.sure or learned.profile is None:
        return False
    save.write_text(learned.profile, encoding="utf-8")
    return True


def _body(outcome: Outcome, saved: bool, save: Path | None) -> dict[str, Any]:
    learned = outcome.judged.learned
    setting = outcome.setting
    line = None
    if setting is not None:
        line = {"baud": setting.baud, **setting.form._asdict(), "found": outcome.line}
    return {
        "sure": learned.sure,
        "found": learned.found,
        "reasons": learned.reasons,
        "next_press": learned.next_press,
        "saved": saved,
        "profile": learned.profile,
        "characteristic": outcome.judged.characteristic,
        "line": line,
        "bench": _bench(outcome, save),
    }


def _tell(outcome: Outcome, saved: bool, save: Path | None) -> None:
    learned = outcome.judged.learned
    for line in [*learned.found, *(outcome.line if learned.found else [])]:
        click.echo(line)
    if learned.sure:
        click.echo("Sure: every press is explained, and no other explanation is left.")
        if not saved and learned.profile is not None:
            click.echo(f"\n{learned.profile}")
        bench = _bench(outcome, save)
        if bench is not None:
            click.echo(f"\nFor bench.toml:\n\n{bench}")
        return
    click.echo("Not sure:" if learned.found else "Nothing learned:")
    for reason in learned.reasons:
        click.echo(f"  {reason}")
    if learned.next_press:
        click.echo(f"What would decide: {learned.next_press}.")


def _bench(outcome: Outcome, save: Path | None) -> str | None:
    """The lines for bench.toml; None where it is not sure, or the port is not known."""
    from api.cli.learn_bench import bench_lines, step_of

    learned = outcome.judged.learned
    if not learned.sure or outcome.port is None:
        return None
    notify = outcome.judged.characteristic
    if outcome.described is not None:
        return bench_lines(outcome.port, None, *outcome.described, notify=notify)
    if learned.profile is None or learned.explanation is None:
        return None
    name = save.name if save is not None else "learned.toml"
    step = step_of(learned.profile, outcome.raws)
    unit = learned.explanation.scaling.base.unit
    return bench_lines(outcome.port, name, unit, step, outcome.setting, notify, outcome.write)
