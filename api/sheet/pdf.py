"""A sheet as PDF: tagged, selectable, the same bytes for the same sheet.

Set by typst with the fonts that come with it, as PDF/UA-1 (ISO 14289-1). Where a title has signs
that those fonts lack, the machine's own fonts help; and where they lack them too, the sheet is
still tagged, but no longer says that it keeps to the standard.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from datetime import datetime
from itertools import groupby
from pathlib import Path
from typing import Any, Final, Literal

import orjson

from api import pages
from api.pictures.svg import FONT, escaped
from api.sheet.blocks import REDIRECTING, Figure, Section, Sheet, Table
from capture.errors import RequestError

Paper = Literal["a4", "letter"]
PAPERS: Final[dict[Paper, str]] = {"a4": "a4", "letter": "us-letter"}
SERIF: Final = "Libertinus Serif"
MONO: Final = "DejaVu Sans Mono"
SECONDS: Final = 120.0
"""At most: a large one on a busy machine."""
ROWS_MOST: Final = 8_000
"""In all tables: typst takes about 0.15 MB and 1.3 ms for each."""
TYPESET: Final = Path(__file__).with_name("typeset.py")
TEMPLATE: Final = Path(__file__).with_name("sheet.typ")
SHAPES: Final = Path(pages.__file__).parent / "templates" / "shapes.html"
SHAPE: Final = re.compile(
    '<symbol id="(shape-[a-z_]+)" viewBox="([0-9 ]+)">(.*?)</symbol>', re.DOTALL
)
IN_BLACK: Final = {
    'class="ground"': 'fill="#000"',
    'class="sign"': 'fill="none" stroke="#fff" stroke-width="5" stroke-linecap="square"',
}
"""What the pages' style sheet says of a shape's two parts, on paper."""
HEAD_MM: Final = 5.0
MARK_MM: Final = 5.0
MARK_FRAME_MM: Final = 4.5
MARK_LETTERS: Final = 66
"""Letters of the marks that fit on one line of the head."""
_ESCAPE: Final = re.compile(r"\\(?:\\|u00[01][0-9a-f]|[bf])")
"""How JSON writes a backslash, and the signs that no page can hold."""
_NO_TEXT: Final = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ufdd0-\ufdef\ufffe\uffff]")


def pdf(sheet: Sheet, paper: Paper) -> bytes:
    """The sheet's PDF. Takes about a second for an engine; for a thread of its own.

    Raises RequestError where it takes far longer, or would take far too much memory.
    """
    rows = sum(
        len(block.rows) for s in sheet.sections for block in s.blocks if isinstance(block, Table)
    )
    if rows > ROWS_MOST:
        raise RequestError(
            f"This sheet has {rows} rows; a PDF takes {ROWS_MOST}.",
            mend="Take the sheet as HTML, which prints as well.",
        )
    with tempfile.TemporaryDirectory(prefix="witnessmark-sheet-") as name:
        folder = Path(name)
        _files(sheet, paper, folder)
        at = int(datetime.fromisoformat(sheet.at).timestamp())
        command = [sys.executable, "-I", str(TYPESET), name, str(at)]
        try:
            done = subprocess.run(
                command,
                check=False,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.PIPE,
                timeout=SECONDS,
            )
        except subprocess.TimeoutExpired:
            raise RequestError(
                f"Setting this sheet took longer than {SECONDS:.0f} s and was given up.",
                mend="Ask again when the machine has less to do, or take the sheet as HTML.",
            ) from None
        if done.returncode:
            raise RuntimeError(f"typst: {done.stderr.decode(errors='replace')}")
        return (folder / "sheet.pdf").read_bytes()


def _files(sheet: Sheet, paper: Paper, folder: Path) -> None:
    """What the template reads."""
    (folder / "sheet.typ").write_bytes(TEMPLATE.read_bytes())
    for name, box, drawn in SHAPE.findall(SHAPES.read_text("utf-8")):
        shape = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}">{drawn}</svg>'
        for said, black in IN_BLACK.items():
            shape = shape.replace(said, black)
        (folder / f"{name}.svg").write_text(shape, "utf-8")
    names = (f"picture-{number}.svg" for number in range(10**6))
    data = {
        "language": sheet.language,
        "title": sheet.title,
        "kind_of": sheet.kind_of,
        "marks": sheet.marks,
        "head": sheet.head,
        "head_mm": HEAD_MM + (_mark_lines(sheet) * MARK_MM + MARK_FRAME_MM if sheet.marks else 0),
        "foot": sheet.foot,
        "page_of": sheet.page_of,
        "at": sheet.at,
        "paper": PAPERS[paper],
        "fonts": [SERIF, MONO],
        "sections": [_section(section, folder, names) for section in sheet.sections],
        "attached": sheet.attached,
    }
    (folder / "sheet.json").write_bytes(_clean(orjson.dumps(data)))


def _mark_lines(sheet: Sheet) -> int:
    return -(-len("  ·  ".join(sheet.marks)) // MARK_LETTERS)


def _section(section: Section, folder: Path, names: Iterator[str]) -> dict[str, Any]:
    blocks: list[Any] = []
    for key, some in groupby(section.blocks, lambda one: isinstance(one, Figure) and one.wide):
        blocks += _blocks(list(some), folder, names, wide=key)
    return {"id": section.id, "title": section.title, "blocks": blocks}


def _blocks(some: list[Any], folder: Path, names: Iterator[str], *, wide: bool) -> list[Any]:
    """Blocks as the template takes them: pictures that follow each other together, as files."""
    made: list[Any] = []
    for is_figure, group in groupby(some, lambda one: isinstance(one, Figure)):
        if not is_figure:
            made += group
            continue
        figures = []
        for figure in group:
            file = next(names)
            (folder / file).write_text(figure.svg.replace(escaped(FONT), SERIF), "utf-8")
            figures.append(
                {"file": file, "alt": figure.alt, "caption": figure.caption, "wide": wide}
            )
        made.append({"kind": "figures", "some": figures})
    return made


def _clean(data: bytes) -> bytes:
    """Without the signs that no font has and no PDF may hold."""
    text = data.decode()
    text = _ESCAPE.sub(lambda found: found[0] if found[0] == r"\\" else "\ufffd", text)
    return _NO_TEXT.sub("\ufffd", text).translate(REDIRECTING).encode()
