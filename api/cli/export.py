"""``witnessmark export``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from api.cli.output import clear_errors
from capture.errors import CaptureError

PAGE = 1000


@click.command("export")
@click.argument("store", type=click.Path(path_type=Path))
@click.option(
    "--format",
    "_form",
    type=click.Choice(["jsonl"]),
    default="jsonl",
    show_default=True,
    help="jsonl: one entry a line, in the very bytes that the tree hashes.",
)
@click.option("--after", type=click.IntRange(0), default=0, help="Only entries above this seq.")
@clear_errors
def command(store: Path, _form: str, after: int) -> None:
    """Write a store's entries to standard output, oldest first. The store may be in use."""
    from capture.archive import Archive

    if not store.is_dir():
        raise CaptureError(
            f"there is no store at {store}. Mend: give the folder that serve's --store names."
        )
    archive = Archive(store)
    out = sys.stdout.buffer
    try:
        while (found := archive.entries(after=after, limit=PAGE)).items:
            out.write(b"".join(item + b"\n" for item in found.items))
            after = found.next
        out.flush()
    finally:
        archive.close()
