"""Parquet: the same columns, typed.

Decimals stand as the ledger has them, digit for digit, in columns of text; beside each is a column
of 64-bit floats with ``_float`` after its name, for plots and sums. Only the text is exact.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Any, Final

import orjson

from capture.errors import RequestError
from capture.exports.columns import COLUMNS, DECIMAL, Cell, Row, Sort, row

ROWS: Final = 10_000
"""Rows in one row group: what is in memory at a time."""

FLOAT: Final = "_float"


def needed() -> None:
    """Raises RequestError where the library that writes Parquet is not installed."""
    if importlib.util.find_spec("pyarrow") is None:
        raise RequestError(
            "Parquet cannot be written here: the library pyarrow is not installed.",
            mend="Install witnessmark[parquet], or ask for CSV or JSON Lines.",
        )


def chunks(items: Iterable[bytes]) -> Iterator[bytes]:
    """The file. Raises RequestError at the first chunk where pyarrow is not installed."""
    needed()
    import pyarrow
    from pyarrow.parquet import ParquetWriter

    schema = _schema()
    out = _Pieces()
    held: list[Row] = []
    with ParquetWriter(out, schema, compression="snappy") as writer:
        for item in items:
            held.append(row(orjson.loads(item)))
            if len(held) == ROWS:
                writer.write_table(pyarrow.table(_columns(held), schema=schema))
                held.clear()
                yield from out.taken()
        if held:
            writer.write_table(pyarrow.table(_columns(held), schema=schema))
    yield from out.taken()


def _schema() -> Any:
    import pyarrow

    kinds = {
        Sort.WHOLE: pyarrow.int64(),
        Sort.DECIMAL: pyarrow.string(),
        Sort.YES_NO: pyarrow.bool_(),
        Sort.MOMENT: pyarrow.timestamp("us", tz="UTC"),
        Sort.TEXT: pyarrow.string(),
    }
    fields = []
    for name, sort in COLUMNS:
        fields.append(pyarrow.field(name, kinds[sort]))
        if sort is Sort.DECIMAL:
            fields.append(pyarrow.field(name + FLOAT, pyarrow.float64()))
    return pyarrow.schema(fields)


def _columns(rows: list[Row]) -> dict[str, list[Any]]:
    found: dict[str, list[Any]] = {}
    for name, sort in COLUMNS:
        values = [each[name] for each in rows]
        if sort is Sort.MOMENT:
            found[name] = [datetime.fromisoformat(str(value)) for value in values]
            continue
        found[name] = values
        if sort is Sort.DECIMAL:
            found[name + FLOAT] = [_float(value) for value in values]
    return found


def _float(value: Cell) -> float | None:
    return float(value) if isinstance(value, str) and DECIMAL.match(value) else None


class _Pieces:
    """A file to write to that gives away what was written."""

    closed = False

    def __init__(self) -> None:
        self._pieces: list[bytes] = []
        self._at = 0

    def write(self, data: Any) -> int:
        piece = bytes(data)
        self._pieces.append(piece)
        self._at += len(piece)
        return len(piece)

    def tell(self) -> int:
        return self._at

    def flush(self) -> None:
        pass

    def close(self) -> None:
        pass

    def readable(self) -> bool:
        return False

    def writable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return False

    def taken(self) -> Iterator[bytes]:
        pieces, self._pieces = self._pieces, []
        yield from pieces
