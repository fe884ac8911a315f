"""``witnessmark verify``."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import click

from api.cli.output import FOUND_WRONG, clear_errors, emit, json_option
from capture.errors import CaptureError

Progress = Callable[[str, int, int], None]


@click.command("verify")
@click.argument("store", type=click.Path(path_type=Path))
@click.option(
    "--against",
    type=click.Path(path_type=Path),
    help="A checkpoint kept elsewhere (a file, or - for standard input) to compare with.",
)
@json_option
@clear_errors
def command(store: Path, against: Path | None, as_json: bool) -> None:
    """Prove that a store's ledger is whole, and recompute every verdict from it.

    It finds any changed, missing or reordered byte that a checkpoint covers and says which entry.
    Without --against it cannot see what someone who holds this disk and its key rewrote: compare
    with a checkpoint that was kept elsewhere.
    """
    from capture.verify import verify

    if not store.is_dir():
        raise CaptureError(f"there is no store at {store}.")
    report = verify(store, against=_checkpoint(against), progress=_progress())
    if as_json:
        emit(report.to_json())
    else:
        for finding in report.problems:
            where = "" if finding.seq is None else f"entry {finding.seq}: "
            click.echo(f"{where}{finding.message} ({finding.code})")
        counts = ", ".join(f"{number} {name}" for name, number in report.counts.items())
        click.echo(f"{'verified' if report.ok else 'NOT VERIFIED'}: {counts}")
    if not report.ok:
        raise SystemExit(FOUND_WRONG)


def _checkpoint(path: Path | None) -> str | None:
    if path is None:
        return None
    try:
        return sys.stdin.read() if str(path) == "-" else path.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise CaptureError(f"the checkpoint {path} cannot be read: {error}") from None


def _progress() -> Progress | None:
    """A line that is written over, for a person at a terminal."""
    if not sys.stderr.isatty():
        return None
    seen = {"share": -1}

    def show(what: str, done: int, total: int) -> None:
        share = done * 100 // total if total else 100
        if share != seen["share"]:
            seen["share"] = share
            end = "\n" if done >= total else ""
            click.echo(f"\r{what}: {share:3d} % ", nl=False, err=True)
            click.echo(end, nl=False, err=True)

    return show
