"""CSV (RFC 4180) that no spreadsheet takes for formulas.

A cell of text that a spreadsheet could take for a formula (it begins with ``= + - @``, a tab or a
carriage return, in their full width too, after spaces or not) gets an apostrophe before it, and so
does one that begins with an apostrophe already: who reads the file takes one apostrophe off the
front of any cell and has the text as it was. Numbers stay numbers: ``-0.005`` in a column of
decimals is written as it stands.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from typing import Final

import orjson

from capture.exports.columns import COLUMNS, DECIMAL, Cell, Sort, row

ROWS: Final = 200
"""Rows in one chunk."""

STARTS: Final = tuple("=+-@\t\r\n＝＋－＠'")
"""What a cell of text must not begin with."""


def chunks(items: Iterable[bytes]) -> Iterator[bytes]:
    """The file in UTF-8: a line of column names, then one line for each reading."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow([column.name for column in COLUMNS])
    for count, item in enumerate(items, start=1):
        found = row(orjson.loads(item))
        writer.writerow([cell(found[name], sort) for name, sort in COLUMNS])
        if count % ROWS == 0:
            yield _taken(out)
    yield _taken(out)


def cell(value: Cell, sort: Sort) -> str:
    """What stands in the file for ``value``."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    number = sort is Sort.DECIMAL and DECIMAL.match(value)
    return value if number else harmless(value)


def harmless(text: str) -> str:
    """``text`` so that it cannot start a formula."""
    return f"'{text}" if text.startswith(STARTS) or text.lstrip().startswith(STARTS) else text


def original(text: str) -> str:
    """The text that ``harmless`` made harmless."""
    return text.removeprefix("'")


def _taken(out: io.StringIO) -> bytes:
    text = out.getvalue()
    out.seek(0)
    out.truncate()
    return text.encode()
