"""The ``[decode]`` table of a profile whose messages are text."""

from __future__ import annotations

from drivers.decoding.layout import LayoutError
from drivers.decoding.text import TextDecoding, encoded
from drivers.profiles.decode_table import check_unit
from drivers.toml_file import Table


def read_text(table: Table) -> TextDecoding | None:
    """The decoding of text; None, with problems noted, where the layout says none."""
    table.required("layout")
    encodings = ("auto", "ascii", "latin-1", "utf-8", "cp437")
    encoding = table.choice("encoding", "auto", encodings)
    layout = table.text("layout", None)
    decoding = TextDecoding(
        layout=layout or "{number}",
        decimal_mark=table.choice("decimal_mark", ".", (".", ",")),
        places=table.integer("places", None, 0, 18),
        units=_known(table, _written(table, "units", encoding)),
        flags=_written(table, "flags", encoding),
        not_known=_written(table, "not_known", encoding),
        encoding=encoding,
    )
    try:
        decoding.compiled()
    except LayoutError as error:
        mend = 'write it like " {sign?} {number} {unit?} ".'
        table.problem("layout", f"{error}.", mend)
    return decoding if layout else None


def _written(table: Table, key: str, encoding: str) -> dict[str, str]:
    """The words of ``key`` that the encoding can write."""
    words = table.texts(key)
    for word in words:
        if not encoded(word, encoding):
            table.problem(key, f"{word!r} is nothing in {encoding}.", "choose another `encoding`.")
    return {word: meaning for word, meaning in words.items() if encoded(word, encoding)}


def _known(table: Table, words: dict[str, str]) -> dict[str, str]:
    for name in words.values():
        check_unit(table, "units", name)
    return words
