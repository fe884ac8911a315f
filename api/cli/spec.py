"""``witnessmark spec``."""

from __future__ import annotations

from pathlib import Path

import click

from api.cli.output import FOUND_WRONG, clear_errors, emit, json_option
from capture.errors import CaptureError, Problem, SpecError


@click.group("spec")
def command() -> None:
    """Work with engine specs."""


@command.command("check")
@click.argument("file", type=click.Path(path_type=Path))
@json_option
@clear_errors
def check(file: Path, as_json: bool) -> None:
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
        _report(error.problems, (), None, as_json=as_json)
        raise SystemExit(FOUND_WRONG) from None
    _report((), warnings(spec), f"{spec.title}, revision {spec.revision}", as_json=as_json)


def _report(
    errors: tuple[Problem, ...], cautions: tuple[Problem, ...], title: str | None, *, as_json: bool
) -> None:
    if as_json:
        emit(
            {
                "ok": not errors,
                "spec": title,
                "errors": [_body(problem) for problem in errors],
                "warnings": [_body(problem) for problem in cautions],
            }
        )
        return
    for problem in errors:
        click.echo(f"error: {problem}")
    for problem in cautions:
        click.echo(f"warning: {problem}")
    if errors:
        click.echo(f"{len(errors)} error{'s' if len(errors) > 1 else ''}.")
    else:
        click.echo(f"{title}: no errors.")


def _body(problem: Problem) -> dict[str, str | int]:
    return {
        "file": problem.file,
        "line": problem.line,
        "key": problem.key,
        "message": problem.message,
        "mend": problem.mend,
    }
