"""``witnessmark spec``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from api.cli.output import FOUND_WRONG, clear_errors, emit, json_option
from capture.errors import CaptureError, Problem, SpecError

if TYPE_CHECKING:
    from capture.instrument import Instrument
    from capture.spec.coarse import Fineness
    from capture.spec.model import Spec


bench_option = click.option(
    "--bench",
    type=click.Path(path_type=Path),
    help="A bench.toml: can its instruments do this, and are they fine enough?",
)


@click.group("spec")
def command() -> None:
    """Work with engine specs."""


@command.command("check")
@click.argument("file", type=click.Path(path_type=Path))
@bench_option
@json_option
@clear_errors
def check(file: Path, bench: Path | None, as_json: bool) -> None:
    """Look for errors in a spec: all of them at once, each with its line and the mend.

    With --bench also for what would go wrong on that bench: steps nobody can do there, instruments
    that are too coarse, overdue or out of range.

    Exit code 0 when it has none (warnings do not count), 1 when it has.
    """
    from capture.spec.load import warnings

    spec = _load(file, as_json=as_json)
    found = list(warnings(spec, str(file)))
    rows: list[Fineness] | None = None
    rest: tuple[str, ...] = ()
    if bench is not None:
        instruments = _instruments(bench)
        found += _on_bench(spec, instruments, file)
        rows, rest = _fineness(spec, instruments)
    title = f"{spec.title}, revision {spec.revision}"
    _report((), tuple(found), title, rows, rest, as_json=as_json)


@command.command("walk")
@click.argument("file", type=click.Path(path_type=Path))
@bench_option
@click.option("--steps", "every_step", is_flag=True, help="Show every step, not only operations.")
@json_option
@clear_errors
def walk(file: Path, bench: Path | None, every_step: bool, as_json: bool) -> None:
    """Show a spec as the bench will walk it: every operation in the order it is asked for.

    The numbers in front are those of its steps. With --bench it names the instruments that suit.
    """
    from capture.walk import walk as walked
    from capture.walk import walk_body

    spec = _load(file, as_json=as_json)
    instruments = None if bench is None else _instruments(bench)
    found = walked(spec)
    if as_json:
        emit({"spec": spec.title, "revision": spec.revision, **walk_body(found)})
        return
    from api.cli.spec_walk import walk_text

    for line in walk_text(spec, found, instruments, every_step=every_step):
        click.echo(line)
    if instruments is not None:
        for problem in _on_bench(spec, instruments, file):
            click.echo(f"\nwarning: {problem}")


@command.command("starter")
@click.option(
    "--save", type=click.Path(path_type=Path), help="Write it to this file, which must be new."
)
@clear_errors
def starter(save: Path | None) -> None:
    """Print a spec to start from: one small invented engine, explained line by line.

    Every number in it that must become your engine maker's is marked CHANGE.
    """
    from api.starter import starter as text

    if save is None:
        click.echo(text().decode(), nl=False)
        return
    try:
        with save.open("xb") as file:
            file.write(text())
    except FileExistsError:
        raise CaptureError(
            f"{save} is there already and was left as it is. Mend: give another name."
        ) from None
    except OSError as error:
        raise CaptureError(
            f"{save} cannot be written: {error.strerror}. Mend: give a path in a folder of yours."
        ) from None
    click.echo(f"Written to {save}. Go through it from CHANGE to CHANGE; then: ")
    click.echo(f"witnessmark spec check {save}")


@command.command("schema")
@clear_errors
def schema() -> None:
    """Print a JSON Schema of the spec format, for editors that complete and mark as you type.

    It knows keys, shapes and choices; `spec check` knows what belongs together.
    """
    import json

    from capture.spec.schema import schema as written

    click.echo(json.dumps(written(), indent=2, ensure_ascii=False))


def _load(file: Path, *, as_json: bool) -> Spec:
    """The spec; one with errors is reported, and ends the program. Raises CaptureError where it
    cannot be read."""
    from capture.spec.load import load

    try:
        data = file.read_bytes()
    except OSError as error:
        raise CaptureError(
            f"{file} cannot be read: {error.strerror}. Mend: give the path of a spec, a TOML file."
        ) from None
    try:
        return load(data, str(file))
    except SpecError as error:
        _report(error.problems, (), None, None, (), as_json=as_json)
        raise SystemExit(FOUND_WRONG) from None


def _instruments(bench: Path) -> tuple[Instrument, ...]:
    from drivers.bench import load_bench

    return load_bench(bench).instruments


def _on_bench(spec: Spec, instruments: tuple[Instrument, ...], file: Path) -> tuple[Problem, ...]:
    from datetime import UTC, datetime

    from capture.spec.bench_advice import bench_warnings

    return bench_warnings(spec, instruments, datetime.now(UTC).date().isoformat(), str(file))


def _fineness(
    spec: Spec, instruments: tuple[Instrument, ...]
) -> tuple[list[Fineness], tuple[str, ...]]:
    """The rows, and what no row can be made for."""
    from capture.spec.coarse import fineness, left_out

    return fineness(spec, instruments), tuple(left_out(spec))


def _report(
    errors: tuple[Problem, ...],
    cautions: tuple[Problem, ...],
    title: str | None,
    rows: list[Fineness] | None,
    rest: tuple[str, ...],
    *,
    as_json: bool,
) -> None:
    if as_json:
        body: dict[str, Any] = {
            "ok": not errors,
            "spec": title,
            "errors": [_body(problem) for problem in errors],
            "warnings": [_body(problem) for problem in cautions],
        }
        if rows is not None:
            body["instruments"] = [row.to_body() for row in rows]
            body["on_several_instruments"] = list(rest)
        emit(body)
        return
    for problem in errors:
        click.echo(f"error: {problem}")
    for problem in cautions:
        click.echo(f"warning: {problem}")
    if errors:
        click.echo(f"{len(errors)} error{'s' if len(errors) > 1 else ''}.")
    else:
        some = f" {len(cautions)} warning{'s' if len(cautions) > 1 else ''}." if cautions else ""
        click.echo(f"{title}: no errors.{some}")
    for row in rows or []:
        click.echo(_line(row))
    if rest:
        click.echo(
            "Not in this table are clearances and formulas, which rest on several instruments: "
            f"{', '.join(rest)}."
        )


def _line(row: Fineness) -> str:
    """One instrument against one tolerance, for a person."""
    if row.expanded_uncertainty is None or row.tolerance is None:
        facts = ""
    else:
        ratio = "" if row.ratio is None else f", ratio {row.ratio:.3g}"
        facts = (
            f"tolerance {row.tolerance:f} {row.unit}, "
            f"U {row.expanded_uncertainty:f} {row.unit}{ratio}"
        )
    who = f" with {row.instrument}" if row.instrument else ""
    return (
        f"{row.subject}{who}: {'. '.join(filter(None, (facts, row.note))) or 'no width to compare'}"
    )


def _body(problem: Problem) -> dict[str, str | int]:
    return {
        "file": problem.file,
        "line": problem.line,
        "key": problem.key,
        "message": problem.message,
        "mend": problem.mend,
    }
