"""A small writer whose faults are known: the harness must find them.

As a program: ``python control.py FOLDER SYNCHRONOUS ORDER COUNT`` appends COUNT rows, each chained
to the one before by a hash, each in a transaction of its own, and acknowledges each in the file
``__ack__``: after its commit (ORDER ``late``) or before it (``early``).
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import sqlite3
import sys
from pathlib import Path

DATABASE = "rows.db"


def write(folder: Path, synchronous: str, order: str, count: int) -> None:
    """Append rows and acknowledge them."""
    acknowledged = os.open(folder / "__ack__", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    connection = sqlite3.connect(folder / DATABASE, isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute(f"PRAGMA synchronous = {synchronous}")
    connection.execute("PRAGMA wal_autocheckpoint = 50")
    connection.execute("CREATE TABLE row (n INTEGER PRIMARY KEY, body BLOB, chain BLOB)")
    chain = b""
    for n in range(1, count + 1):
        body = os.urandom(200)
        chain = hashlib.sha256(chain + body).digest()
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("INSERT INTO row VALUES (?, ?, ?)", (n, body, chain))
        if order == "early":
            os.write(acknowledged, b"%d\n" % n)
        connection.execute("COMMIT")
        if order == "late":
            os.write(acknowledged, b"%d\n" % n)
    connection.close()
    os.close(acknowledged)


def complaint(folder: Path, acknowledged: int) -> str | None:
    """What is wrong with the rows found in ``folder``, or None."""
    if not (folder / DATABASE).exists():
        return f"lost all of {acknowledged}" if acknowledged else None
    try:
        with contextlib.closing(sqlite3.connect(folder / DATABASE)) as connection:
            connection.execute("PRAGMA synchronous = OFF")
            (verdict,) = connection.execute("PRAGMA integrity_check").fetchone()
            if verdict != "ok":
                return f"damaged: {verdict}"
            if not connection.execute("SELECT 1 FROM sqlite_master").fetchone():
                return f"lost all of {acknowledged}" if acknowledged else None
            rows = connection.execute("SELECT n, body, chain FROM row ORDER BY n").fetchall()
    except sqlite3.DatabaseError as error:
        return f"damaged: {error}"
    chain = b""
    for expected, (n, body, found) in enumerate(rows, 1):
        chain = hashlib.sha256(chain + body).digest()
        if n != expected or found != chain:
            return f"damaged: the chain breaks at row {expected}"
    if len(rows) < acknowledged:
        return f"lost {acknowledged - len(rows)} of {acknowledged}"
    return None


if __name__ == "__main__":
    write(Path(sys.argv[1]), sys.argv[2], sys.argv[3], int(sys.argv[4]))
