"""The table that ``make bench`` prints, and the same as JSON."""

from __future__ import annotations

import sys
from typing import NamedTuple


class Row(NamedTuple):
    """One figure beside what it is measured against."""

    what: str
    ours: str
    beside: str
    """What it is compared with, and that figure."""
    ratio: float
    bound: float | None
    """None where the figure is only told."""
    at_least: bool = False
    """The ratio must not fall below the bound; otherwise it must not exceed it."""
    note: str = ""

    @property
    def within(self) -> bool:
        if self.bound is None:
            return True
        return self.ratio >= self.bound if self.at_least else self.ratio <= self.bound

    def cells(self) -> list[str]:
        """The row as text, one cell for each of ``TITLES``."""
        bound = word = ""
        if self.bound is not None:
            bound = f"{'≥' if self.at_least else '≤'} {self.bound:g} ×"
            word = "within" if self.within else "OUTSIDE"
        note = "; ".join(text for text in (word, self.note) if text)
        return [self.what, self.ours, self.beside, f"{self.ratio:.2f} ×", bound, note]


TITLES = ("measured", "ours", "beside", "ratio", "bound", "")


def seconds(value: float) -> str:
    """``0.41 ms``, ``1.73 s``."""
    return f"{value * 1e3:.2f} ms" if value < 1 else f"{value:.2f} s"


def rate(value: float) -> str:
    """``81 200/s``."""
    return f"{round(value, -2):,.0f}/s".replace(",", " ")


def megabytes(value: float) -> str:
    """``45.9 MB``."""
    return f"{value / 1e6:.1f} MB"


def show(rows: list[Row], notes: list[str]) -> None:
    """Prints the table to standard output."""
    from rich import box
    from rich.console import Console
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for title in TITLES:
        table.add_column(title, justify="right" if title in ("ours", "ratio") else "left")
    for row in rows:
        table.add_row(*row.cells())
    console = Console(width=None if sys.stdout.isatty() else 150, highlight=False)
    console.print(table)
    for note in notes:
        console.print(note)


def as_json(rows: list[Row], notes: list[str]) -> dict[str, object]:
    """The rows as JSON values."""
    return {"rows": [{**row._asdict(), "within": row.within} for row in rows], "notes": notes}


def as_markdown(rows: list[Row], notes: list[str]) -> str:
    """The table for the README."""
    lines = [TITLES, tuple("---" for _ in TITLES), *(row.cells() for row in rows)]
    table = "\n".join("| " + " | ".join(cells) + " |" for cells in lines)
    return "\n\n".join([table, *notes])
