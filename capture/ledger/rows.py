"""Inserting many rows in few steps.

``executemany`` lets go of the interpreter's lock once a row, and under load each time waits for
the other thread to give it back. One statement with many rows does so once, which is what keeps a
flood on one port from starving the writer.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence

_SIZES = (256, 32, 8, 2, 1)


class RowWriter:
    """``INSERT`` of rows of a fixed width into one table."""

    def __init__(self, table: str, columns: Sequence[str], *, replace: bool = False) -> None:
        self._width = len(columns)
        row = f"({','.join('?' * self._width)})"
        head = "INSERT OR REPLACE" if replace else "INSERT"
        names = ",".join(columns)
        self._statements = [
            (size, f"{head} INTO {table}({names}) VALUES {','.join([row] * size)}")
            for size in _SIZES
        ]

    def write(self, connection: sqlite3.Connection, flat: list[object]) -> None:
        """Writes rows given as one flat list, ``len(flat) / width`` of them."""
        at, left, width = 0, len(flat) // self._width, self._width
        for size, statement in self._statements:
            while left >= size:
                connection.execute(statement, flat[at : at + size * width])
                at += size * width
                left -= size
