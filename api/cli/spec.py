"""``witnessmark spec``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from api.cli.output import FOUND_WRONG, clear_errors, emit, json_option
from capture.errors import CaptureError, Problem, SpecError

if TYPE_CHECKING:
    from capture.spec.coarse import Fineness
    from capture.spec.model import Spec


@click.group("spec")
def command() -> None:
    """Work with engine specs."""


@command.command("check")
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--bench",
    type=click.Path(path_type=Path),
    help="A bench.toml: are its instruments fine enough for these tolerances?",
)
@json_option
@clear_errors
def check(file: Path, bench: Path | None, as_json: bool) -> None:
    """Look for errors in a spec: all of them at once, each with its line and the mend.

    Exit code 0 when it has none (warnings do not count), 1 when it has.
    """
    from capture.spec.load import load, warnings

    try:
        data = file.read_bytes()
    except OSError as error:
        raise CaptureError(
            f"{file} cannot be read: {error.strerror}. Mend: give the path of a spec, a TOML file."
        ) from None
    try:
        spec = load(data, str(file))
    except SpecError as error:
        _report(error.problems, (), None, None, (), as_json=as_json)
        raise SystemExit(FOUND_WRONG) from None
    rows, rest = (None, ()) if bench is None else _fineness(spec, bench)
    title = f"{spec.title}, revision {spec.revision}"
    _report((), warnings(spec, str(file)), title, rows, rest, as_json=as_json)


@command.command("schema")
@clear_errors
def schema() -> None:
    """Print a JSON Schema of the spec format, for editors that complete and mark as you type.

    It knows keys, shapes and choices; `spec check` knows what belongs together.
    """
    import json

    from capture.spec.schema import schema as written

    click.echo(json.dumps(written(), indent=2, ensure_ascii=False))


def _fineness(spec: Spec, bench: Path) -> tuple[list[Fineness], tuple[str, ...]]:
    """The rows, and what no row can be made for."""
    from capture.spec.coarse import fineness, left_out
    from drivers.bench import load_bench

    return fineness(spec, load_bench(bench).instruments), tuple(left_out(spec))


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
        click.echo(f"{title}: no errors.")
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
