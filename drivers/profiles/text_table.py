"""The ``[decode]`` table of a profile whose messages are text."""

from __future__ import annotations

from drivers.decoding.layout import LayoutError
from drivers.decoding.text import TextDecoding, encoded
from drivers.decoding.worth import Worths
from drivers.profiles.decode_table import check_unit, fixed_unit
from drivers.profiles.wire_bytes import wire_bytes
from drivers.profiles.worth_table import read_worths
from drivers.toml_file import Table


def read_text(table: Table) -> TextDecoding | None:
    """The decoding of text; None, with problems noted, where the layout says none."""
    table.required("layout")
    encodings = ("auto", "ascii", "latin-1", "utf-8", "cp437")
    encoding = table.choice("encoding", "auto", encodings)
    layout = table.text("layout", None)
    base = table.choice("number_base", "decimal", ("decimal", "hex"))
    hex_negative = table.choice("hex_negative", "none", ("none", "twos", "top-bit"))
    exponent = table.flag("exponent", False)
    last_first = table.flag("last_first", False)
    _at_odds(table, base, exponent, last_first)
    worths = read_worths(table)
    decoding = TextDecoding(
        layout=layout or "{number}",
        decimal_mark=table.choice("decimal_mark", ".", (".", ",")),
        places=_places(worths),
        units=_known(table, _written(table, "units", encoding)),
        flags=_written(table, "flags", encoding),
        not_known=_written(table, "not_known", encoding),
        encoding=encoding,
        exponent=exponent,
        number_base=base,
        hex_negative=hex_negative,
        last_first=last_first,
        signs=_signs(table, encoding),
        padding=wire_bytes(table, "padding"),
        unit=fixed_unit(table),
        worths=worths,
    )
    try:
        decoding.compiled()
    except LayoutError as error:
        mend = 'write it like " {sign?} {number} {unit?} ".'
        table.problem("layout", f"{error}.", mend)
    return decoding if layout else None


def _places(worths: Worths) -> int | None:
    """Digits behind a point that is not sent; None where it is. It is sent in all units or none."""
    known = [worth.places for worth in worths.all if worth.places is not None]
    return known[0] if known else None


def _at_odds(table: Table, base: str, exponent: bool, last_first: bool) -> None:
    """Notes ways of writing a number that cannot go together."""
    if base == "hex" and exponent:
        mend = "take it away: E is a digit there."
        table.problem("exponent", "hexadecimal digits have no exponent.", mend)
    if exponent and last_first:
        table.problem("exponent", "does not go with last_first.", "take one of the two away.")
    if base == "decimal" and "hex_negative" in table:
        mend = 'add number_base = "hex", or take it away.'
        table.problem("hex_negative", "decimal digits have none.", mend)


def _signs(table: Table, encoding: str) -> dict[str, bool]:
    """The words of a sign; whether each is a minus."""
    words = _written(table, "signs", encoding)
    for meaning in words.values():
        if meaning not in ("plus", "minus"):
            table.problem("signs", f"{meaning!r} is no sign.", 'write "plus" or "minus".')
    signs = {word: meaning == "minus" for word, meaning in words.items()}
    return signs or {"+": False, "-": True}


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
