"""``witnessmark sheet``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from api.cli.output import clear_errors
from api.labels.catalogue import USUAL, languages
from capture.errors import CaptureError

if TYPE_CHECKING:
    from api.sheet.gather import Material
    from capture.archive import Archive
    from capture.entry import Envelope


@click.command("sheet")
@click.argument("store", type=click.Path(path_type=Path))
@click.option("--build", required=True, help="Of which build, like b31.")
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="Of a PDF.",
)
@click.option(
    "--language",
    type=click.Choice(languages()),
    default=USUAL,
    show_default=True,
    help="Of the words that are not the record's.",
)
@click.option(
    "--save",
    type=click.Path(path_type=Path),
    help="Where to write; a name that ends in .html gives HTML. Else a PDF on standard output.",
)
@clear_errors
def command(
    store: Path, build: str, paper: Literal["a4", "letter"], language: str, save: Path | None
) -> None:
    """Write the build sheet: the document about a build that its owner keeps.

    It shows the ledger as the newest signed checkpoint covers it. The store may be in use.
    """
    from api.labels.catalogue import labels
    from api.sheet.compose import compose
    from capture.archive import Archive

    if not store.is_dir():
        raise CaptureError(
            f"there is no store at {store}. Mend: give the folder that serve's --store names."
        )
    if save is None and sys.stdout.isatty():
        raise CaptureError("a PDF is nothing for a terminal. Mend: give --save FILE.pdf.")
    archive = Archive(store)
    try:
        material = taken(archive, build)
    finally:
        archive.close()
    chosen = labels(language)
    sheet = compose(material, chosen)
    if save is not None and save.suffix.lower() in (".html", ".htm"):
        from api.sheet.html import html

        others = [labels(one) for one in languages() if one != language]
        data = html(sheet, build, chosen, others)[0].encode()
    else:
        from api.sheet.pdf import pdf

        data = pdf(sheet, paper)
    with click.open_file(str(save or "-"), "wb", lazy=False) as out:
        out.write(data)


def taken(archive: Archive, build: str) -> Material:
    """The build as the newest checkpoint covers it. Raises CaptureError."""
    from api.sheet.gather import gather
    from capture.desk import Desk
    from capture.inquiry.glance import still
    from capture.ledger.checkpoint import open_checkpoint_text

    signed = archive.checkpoint()
    if signed is None:
        raise CaptureError("no checkpoint was signed yet. Mend: let the service run a moment.")
    size = open_checkpoint_text(signed)[0].size

    def entries(name: str) -> list[Envelope]:
        return [one for one in archive.entries_of_build(name) if one["seq"] <= size]

    desk = Desk(entries)
    for entry in archive.records():
        if entry["seq"] <= size:
            desk.apply(entry)
    if archive.size() > size:
        click.echo(f"entries after {size} are under no checkpoint yet: left out", err=True)
    return gather(archive, still(desk, build, size), signed)
