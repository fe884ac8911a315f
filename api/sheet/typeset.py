"""Has a sheet set by typst, in a process of its own: ``python typeset.py FOLDER SECONDS``.

What typst keeps in memory for the next time (some hundred megabytes) goes when this process ends,
and a service that captures readings is never held up. Imports nothing of ours.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

import typst

TRIES: tuple[tuple[bool, str], ...] = ((False, "ua-1"), (True, "ua-1"), (True, ""))
"""With the machine's own fonts, and by which standard. Typst's own fonts first, for the same bytes
on every machine; then for signs that those lack; at last with signs that no font has."""


def typeset(folder: Path, at: int) -> bytes:
    """``sheet.typ`` in the folder as PDF, dated ``at`` seconds after 1970."""
    for system, standard in TRIES:
        fonts = typst.Fonts(include_system_fonts=system, include_embedded_fonts=True)
        compiler = typst.Compiler(folder / "sheet.typ", root=folder, font_paths=fonts)
        standards = [standard] if standard else []
        try:
            made = compiler.compile(format="pdf", timestamp=at, pdf_standards=standards)  # type: ignore[arg-type] # wants literals
        except typst.TypstError as error:
            if not standard or "could not be displayed" not in error.message:
                raise
            continue
        assert isinstance(made, bytes)
        return made
    raise AssertionError("without a standard, every sign can be set")


if __name__ == "__main__":
    if hasattr(os, "nice"):
        os.nice(10)  # readings go first
    where = Path(sys.argv[1])
    (where / "sheet.pdf").write_bytes(typeset(where, int(sys.argv[2])))
