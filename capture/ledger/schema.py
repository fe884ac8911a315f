"""The tables of a store, as numbered steps; each is applied and recorded in one transaction.

``entry`` is the ledger: everything else can be rebuilt from it. ``leaf`` is the entry's leaf hash
and ``node`` the complete nodes of the hash tree at every eighth level, so that a proof never
reads more than a few hundred rows. ``checkpoint`` keeps the signed tree heads given out.
``reading``, ``record`` and ``idempotency`` are projections. ``reading`` has the decision that
counts, the build it stands in, and the one the service first placed it in where that is another.
``blob`` keeps torque traces by the SHA-256 of their uncompressed bytes, which their press cites.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable

from capture.errors import StoreDamaged

APPLICATION_ID = 0x774D6172
"""``wMar``: marks the SQLite file as one of ours."""


_FIRST = """
CREATE TABLE entry(seq INTEGER PRIMARY KEY, leaf BLOB NOT NULL, bytes BLOB NOT NULL);
CREATE TABLE node(level INTEGER, idx INTEGER, hash BLOB NOT NULL, PRIMARY KEY(level, idx))
    WITHOUT ROWID;
CREATE TABLE checkpoint(size INTEGER PRIMARY KEY, note TEXT NOT NULL);
CREATE TABLE reading(press INTEGER PRIMARY KEY, decision INTEGER NOT NULL, instrument TEXT NOT NULL,
    at TEXT NOT NULL, build TEXT, moved_from TEXT);
CREATE INDEX reading_by_instrument ON reading(instrument, press);
CREATE INDEX reading_by_build ON reading(build, press) WHERE build IS NOT NULL;
CREATE INDEX reading_moved ON reading(moved_from, press) WHERE moved_from IS NOT NULL;
CREATE TABLE record(seq INTEGER PRIMARY KEY, kind TEXT NOT NULL, name TEXT);
CREATE INDEX record_by_name ON record(kind, name, seq);
CREATE TABLE idempotency(key TEXT PRIMARY KEY, seq INTEGER NOT NULL, request TEXT NOT NULL)
    WITHOUT ROWID;
"""


def _first(connection: sqlite3.Connection) -> None:
    for statement in _FIRST.split(";"):
        if statement.strip():
            connection.execute(statement)


def _blobs(connection: sqlite3.Connection) -> None:
    connection.execute(
        "CREATE TABLE blob(digest TEXT PRIMARY KEY, data BLOB NOT NULL) WITHOUT ROWID"
    )


STEPS: tuple[Callable[[sqlite3.Connection], None], ...] = (_first, _blobs)


def migrate(connection: sqlite3.Connection) -> None:
    """Brings a store's tables up to date. Raises StoreDamaged for a file that is not ours or is
    newer than this program."""
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    application = int(connection.execute("PRAGMA application_id").fetchone()[0])
    if version and application != APPLICATION_ID:
        raise StoreDamaged("The database in this folder is not a witnessmark store.")
    if version > len(STEPS):
        raise StoreDamaged(
            f"This store has tables of version {version}; this program knows {len(STEPS)}. "
            "Use the newer program."
        )
    for number in range(version, len(STEPS)):
        connection.execute("BEGIN IMMEDIATE")
        try:
            STEPS[number](connection)
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            connection.execute(f"PRAGMA user_version = {number + 1}")
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise
