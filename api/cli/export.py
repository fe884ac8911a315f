"""``witnessmark export``."""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from api.cli.output import clear_errors
from capture.errors import CaptureError

if TYPE_CHECKING:
    from capture.archive import Archive

PAGE = 1000
RESULTS = ("conforming", "nonconforming", "undecided", "not_evaluated")
READINGS = {"csv": "csv", "readings": "jsonl", "parquet": "parquet", "qif": "qif"}
"""``--format`` → the name of the format of readings; the others are of entries."""


@click.command("export")
@click.argument("store", type=click.Path(path_type=Path))
@click.option(
    "--format",
    "form",
    type=click.Choice(["jsonl", "bundle", *READINGS]),
    default="jsonl",
    show_default=True,
    help="jsonl: one entry a line, in the very bytes that the tree hashes. bundle: a ZIP file of "
    "entries with their proofs and a small program that checks them anywhere. csv, readings (JSON "
    "Lines), parquet, qif: the readings, each with the decision that counts.",
)
@click.option("--after", type=click.IntRange(0), default=0, help="jsonl: only above this seq.")
@click.option("--build", help="bundle: everything about this build, like b31. Readings: its own.")
@click.option("--instrument", help="readings: only of this instrument.")
@click.option("--since", help="readings: from this moment on, like 2026-01-31T08:00:00Z.")
@click.option("--until", help="readings: before this moment.")
@click.option("--operator", help="readings: only with this person at the bench.")
@click.option("--result", type=click.Choice(RESULTS), help="readings: only with this verdict.")
@click.option(
    "--placed/--not-placed", default=None, help="readings: only those that answer a step, or none."
)
@click.option("--reason", help="readings: only those not placed for this reason, like void.")
@click.option(
    "--corrected/--not-corrected",
    default=None,
    help="readings: only those whose value a person corrected, or did not.",
)
@click.option(
    "--entry", "entries", type=click.IntRange(1), multiple=True, help="bundle: this entry (seq)."
)
@click.option(
    "--against",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    multiple=True,
    help="bundle: also prove that the ledger continues this checkpoint, kept elsewhere.",
)
@click.option(
    "--save", type=click.Path(path_type=Path), help="Where to write; else standard output."
)
@clear_errors
def command(
    store: Path,
    form: str,
    after: int,
    build: str | None,
    instrument: str | None,
    since: str | None,
    until: str | None,
    entries: tuple[int, ...],
    against: tuple[Path, ...],
    save: Path | None,
    **more: str | bool | None,
) -> None:
    """Write a store's entries, oldest first. The store may be in use.

    A bundle holds what was asked for with everything that it rests on: the press, its decisions,
    the instrument's record, the spec.
    """
    from capture.archive import Archive

    if not store.is_dir():
        raise CaptureError(
            f"there is no store at {store}. Mend: give the folder that serve's --store names."
        )
    if form == "bundle" and (build is None) == (not entries):
        raise CaptureError("a bundle needs --build, or --entry once or more. Mend: give one.")
    if form == "jsonl" and (build or entries or against):
        raise CaptureError("--build, --entry and --against are for --format bundle.")
    if form in READINGS:
        if after or entries or against:
            raise CaptureError("--after, --entry and --against are for entries, not for readings.")
    elif instrument or since or until or any(value is not None for value in more.values()):
        raise CaptureError(
            "--instrument, --since, --until, --operator, --result, --placed, --reason and "
            "--corrected are for formats of readings. Mend: leave them out, or ask for one of "
            f"{', '.join(READINGS)} with --format."
        )
    archive = Archive(store)
    try:
        if form in READINGS:
            asked = {"build": build, "instrument": instrument, "since": since, "until": until}
            _readings(archive, READINGS[form], {**asked, **more}, save)
        elif form == "jsonl":
            _lines(archive, after, save)
        else:
            _bundle(archive, build, entries, against, save)
    finally:
        archive.close()


def _lines(archive: Archive, after: int, save: Path | None) -> None:
    with click.open_file(str(save or "-"), "wb") as out:
        while (found := archive.entries(after=after, limit=PAGE)).items:
            out.write(b"".join(item + b"\n" for item in found.items))
            after = found.next
        out.flush()


def _readings(archive: Archive, form: str, asked: dict[str, Any], save: Path | None) -> None:
    from api.queries import Chosen
    from api.routes.readings import filters_of
    from capture.exports import chosen
    from capture.exports.formats import FORMATS, written
    from capture.exports.grounds import Kept

    if save is None and not FORMATS[form].text and sys.stdout.isatty():
        raise CaptureError("such a file is nothing for a terminal. Mend: give --save FILE.")
    filters = filters_of(Chosen.model_validate(asked))
    chosen.known(archive, filters)
    now = datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    chunks = written(form, chosen.readings(archive, filters), Kept(archive), now)
    with click.open_file(str(save or "-"), "wb", lazy=False) as out:
        for chunk in chunks:
            out.write(chunk)
        out.flush()


def _bundle(
    archive: Archive,
    build: str | None,
    entries: tuple[int, ...],
    against: tuple[Path, ...],
    save: Path | None,
) -> None:
    from capture.takehome import bundle, selection

    if save is None and sys.stdout.isatty():
        raise CaptureError("a ZIP file is nothing for a terminal. Mend: give --save FILE.zip.")
    found = (
        selection.with_grounds(archive, entries)
        if build is None
        else selection.of_build(archive, build)
    )
    signed = archive.checkpoint()
    if signed is None:
        raise CaptureError("no checkpoint was signed yet. Mend: let the service run a moment.")
    since = [_size(file, signed) for file in against]
    with click.open_file(str(save or "-"), "wb", lazy=False) as out:
        bundle.write(out, archive, found, signed, since)
    if save is not None:
        click.echo(f"{len(found)} entries with their proofs in {save}", err=True)


def _size(file: Path, signed: str) -> int:
    """Of the tree a kept checkpoint covers. Raises CaptureError where it is another log's."""
    from capture.ledger.checkpoint import open_checkpoint_text

    try:
        kept, head = open_checkpoint_text(file.read_bytes())[0], open_checkpoint_text(signed)[0]
    except CaptureError as error:
        raise CaptureError(
            f"{file} is no checkpoint: {error}. Mend: give what GET /v1/ledger/checkpoint gave."
        ) from None
    if kept.origin != head.origin or not 1 <= kept.size <= head.size:
        raise CaptureError(
            f"{file} is of {kept.size} entries of {kept.origin}, this store has {head.size} of "
            f"{head.origin}. Mend: give a checkpoint that this bench gave out earlier."
        )
    return kept.size
