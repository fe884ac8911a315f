"""What a sheet is made of: plain values in one language, the same for PDF and HTML.

All text is data: what sets a sheet never reads markup in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

REDIRECTING: Final = dict.fromkeys((*range(0x202A, 0x202F), *range(0x2066, 0x206A)), "\ufffd")
"""Signs that turn round the text behind them (Unicode, UAX 9, explicit formatting), each with what
stands for it: with one of them in a title, its build's id would read backwards."""

How = Literal["text", "number", "result", "seqs", "mono"]
"""How a column's cells are set."""


@dataclass(frozen=True, slots=True)
class Result:
    """A verdict: its word in the ledger (for its shape) and in the sheet's language."""

    word: str
    """Empty where there is none yet."""
    said: str


Cell = str | Result | tuple[int, ...]
"""Text, a verdict, or seqs of the ledger, as the column's ``how`` says."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column: what stands over it, and how its cells are set."""

    head: str
    how: How = "text"
    wide: bool = False
    """It takes the room that others leave."""


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under a heading that repeats on every page. The first cell names its row."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    title: str = ""
    """A heading below the section's; empty where the section's own is enough."""
    about: str = ""
    """What holds for every row: limits, rule, coverage factor."""
    notes: tuple[str, ...] = ()
    """What is to be said of single rows."""
    level: int = 2
    """Of its title: 2 below the section's own, 3 below a ``Heading``."""
    kind: Literal["table"] = "table"


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph."""

    text: str
    kind: Literal["text"] = "text"


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading below the section's, for what follows it."""

    text: str
    kind: Literal["heading"] = "heading"


@dataclass(frozen=True, slots=True)
class Items:
    """A list of sentences."""

    items: tuple[str, ...]
    kind: Literal["items"] = "items"


@dataclass(frozen=True, slots=True)
class Facts:
    """Names with what they stand for."""

    rows: tuple[tuple[str, str, How], ...]
    kind: Literal["facts"] = "facts"


@dataclass(frozen=True, slots=True)
class Box:
    """What must not be overlooked: a title and sentences in a frame."""

    title: str
    items: tuple[str, ...]
    kind: Literal["box"] = "box"


@dataclass(frozen=True, slots=True)
class Verbatim:
    """Lines that must stay as they are."""

    text: str
    about: str
    kind: Literal["verbatim"] = "verbatim"


@dataclass(frozen=True, slots=True)
class Figure:
    """A picture (SVG text), what it shows in words, and a line below it."""

    svg: str
    alt: str
    caption: str
    wide: bool = False
    """It wants the page's whole width."""
    kind: Literal["figure"] = "figure"


Block = Table | Text | Heading | Items | Facts | Box | Verbatim | Figure


@dataclass(frozen=True, slots=True)
class Section:
    """A heading with what belongs to it."""

    id: str
    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Attached:
    """A file that travels inside the PDF."""

    name: str
    text: str
    about: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """A whole sheet."""

    language: str
    title: str
    kind_of: str
    """What sort of document it is: "Build sheet"."""
    marks: tuple[str, ...]
    """What stands large at the head of every page: simulated, invented, not finished."""
    head: str
    """A short line for the head of every page after the first."""
    foot: str
    page_of: str
    """``Page {page} of {pages}`` with these two places left open."""
    at: str
    """The moment that it shows, RFC 3339 UTC: the date of the document."""
    sections: tuple[Section, ...]
    attached: tuple[Attached, ...]
