"""``witnessmark verify``."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from api.cli.output import FOUND_WRONG, clear_errors, emit, json_option
from capture.errors import CaptureError

if TYPE_CHECKING:
    from capture.ledger.checkpoint import Checkpoint
    from capture.verify import Report

Progress = Callable[[str, int, int], None]
KEPT = "Mend: give the text that GET /v1/ledger/checkpoint gave, as it came."


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
        raise CaptureError(
            f"there is no store at {store}. Mend: give the folder that serve's --store names."
        )
    given = _checkpoint(against)
    report = verify(store, against=given, progress=_progress())
    if as_json:
        emit(report.to_json())
    else:
        for line in said(report, given):
            click.echo(line)
    if not report.ok:
        raise SystemExit(FOUND_WRONG)


def said(report: Report, given: str | None) -> Iterator[str]:
    """The report for a person, line by line. ``given``: the checkpoint of ``--against``."""
    for finding in report.problems:
        where = "" if finding.seq is None else f"entry {finding.seq}: "
        yield f"NOT VERIFIED: {where}{finding.message} ({finding.code})"
    if report.ok:
        yield f"verified: {_count(report.size, 'entry', 'entries')}, root {report.root}"
        own = report.checkpoints - (given is not None)
        yield f"{_count(own, 'signed checkpoint', 'signed checkpoints')} in the store: all fit."
    if report.ok and given is not None:
        head = _opened(given)
        yield (
            f"The ledger continues the checkpoint given: its first "
            f"{_count(head.size, 'entry is', 'entries are')} what that one covers."
        )
    if report.counts:
        yield ", ".join(f"{number} {name}" for name, number in report.counts.items())


def _count(number: int, one: str, more: str) -> str:
    return f"{number} {one if number == 1 else more}"


def _checkpoint(path: Path | None) -> str | None:
    """The text of ``--against``. Raises CaptureError where it is no checkpoint at all."""
    if path is None:
        return None
    try:
        text = sys.stdin.read() if str(path) == "-" else path.read_text("utf-8")
    except OSError as error:
        raise CaptureError(f"the checkpoint {path} cannot be read: {error.strerror}.") from None
    except UnicodeDecodeError:
        raise CaptureError(f"{path} is no checkpoint: it is not UTF-8 text. {KEPT}") from None
    try:
        _opened(text)
    except CaptureError as error:
        raise CaptureError(f"{path} is no checkpoint: {error}. {KEPT}") from None
    return text


def _opened(text: str) -> Checkpoint:
    from capture.ledger.checkpoint import open_checkpoint_text

    return open_checkpoint_text(text)[0]


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
