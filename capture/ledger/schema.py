"""The tables of a store, as numbered steps; each is applied and recorded in one transaction.

``entry`` is the ledger: everything else can be rebuilt from it. ``leaf`` is the entry's leaf hash
and ``node`` the complete nodes of the hash tree at every eighth level, so that a proof never
reads more than a few hundred rows. ``checkpoint`` keeps the signed tree heads given out.
``reading``, ``record`` and ``idempotency`` are projections. ``reading`` has the decision that
counts, the build it stands in, and the one the service first placed it in where that is another,
and what a history is searched by: who pressed, how it stands (see ``record.standing``), whether a
person corrected it. ``clock_back`` has the presses at which the clock had been set back (see
``moments``), ``shift`` those at which somebody else was at the bench than at the press before.
``blob`` keeps torque traces by the SHA-256 of their uncompressed bytes, which their press cites.
"""

from __future__ import annotations

import functools
import logging
import sqlite3
from collections.abc import Callable

import orjson

from capture.errors import StoreDamaged
from capture.ledger.order import Order
from capture.ledger.record import CORRECTED, standing

_log = logging.getLogger(__name__)

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


_SEARCHED = """
CREATE INDEX IF NOT EXISTS reading_by_standing ON reading(standing, press)
    WHERE standing <> 'conforming';
CREATE INDEX IF NOT EXISTS reading_corrected ON reading(corrected, press)
    WHERE corrected IS NOT NULL;
CREATE TABLE IF NOT EXISTS clock_back(press INTEGER PRIMARY KEY);
CREATE TABLE IF NOT EXISTS shift(press INTEGER PRIMARY KEY, operator TEXT);
CREATE INDEX IF NOT EXISTS shift_by_operator ON shift(operator, press);
"""
CHUNK = 10_000
MANY = 1_000_000
"""Entries from which on filling in is worth telling of."""


def _columns(connection: sqlite3.Connection) -> None:
    """What a history is searched by. Filling it in for many readings is committed on the way, and
    goes on where it was broken off: the log of one transaction over all of them would be as large
    as the ledger."""
    columns = {row[1] for row in connection.execute("PRAGMA table_info(reading)")}
    for name in ("operator TEXT", "standing TEXT", "corrected INTEGER"):
        if name.partition(" ")[0] not in columns:
            connection.execute(f"ALTER TABLE reading ADD COLUMN {name}")
    after, newest = 0, connection.execute("SELECT max(press) FROM reading").fetchone()[0] or 0
    told = MANY
    while rows := connection.execute(
        "SELECT press, first.bytes, newest.bytes FROM reading"
        " JOIN entry AS first ON first.seq = press JOIN entry AS newest ON newest.seq = decision"
        " WHERE press > ? AND standing IS NULL ORDER BY press LIMIT ?",
        (after, CHUNK),
    ).fetchall():
        connection.executemany(
            "UPDATE reading SET operator = ?, standing = ?, corrected = ? WHERE press = ?",
            filter(None, map(_found_by, rows)),
        )
        after = rows[-1][0]
        connection.execute("COMMIT")
        connection.execute("BEGIN IMMEDIATE")
        if after > told:
            _log.warning("making the history searchable, once: entry %d of %d", after, newest)
            told = after + MANY


def _searched(connection: sqlite3.Connection) -> None:
    """What finds it. A press that conforms, by whoever pressed before, touches none of these: most
    presses do, and each page of the database that they touch is one more to sync."""
    for statement in _SEARCHED.split(";"):
        if statement.strip():
            connection.execute(statement)
    order = Order()
    for press, at, operator in connection.execute(
        "SELECT press, at, operator FROM reading ORDER BY press"
    ):
        order.add(press, at, operator)
    connection.executemany("INSERT OR IGNORE INTO clock_back VALUES (?)", order.clock_back)
    connection.executemany("INSERT OR IGNORE INTO shift VALUES (?, ?)", order.shifts)


def _found_by(row: tuple[int, bytes, bytes]) -> tuple[object, ...] | None:
    """Operator, standing, corrected and press. None for entries that cannot be read: ``verify``
    tells of them, and the bench goes on."""
    try:
        press, body = orjson.loads(row[1]), orjson.loads(row[2])["body"]
        return (
            press["operator"],
            standing(body),
            CORRECTED if body.get("corrected") else None,
            row[0],
        )
    except (ValueError, KeyError, TypeError):
        return None


STEPS: tuple[Callable[[sqlite3.Connection], None], ...] = (_first, _blobs, _columns, _searched)
SEARCHED = 4
"""The version from which on a store has what its history is searched by."""


def version_of(connection: sqlite3.Connection) -> int:
    """Of a store's tables."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def migrate(connection: sqlite3.Connection) -> None:
    """Brings a store's tables up to date. Raises StoreDamaged for a file that is not ours or is
    newer than this program."""
    version = version_of(connection)
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


@functools.cache
def columns(version: int, table: str) -> tuple[str, ...]:
    """The columns that a table has in a store of this version; none where it has no such table."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    try:
        for step in STEPS[:version]:
            connection.execute("BEGIN")
            step(connection)
            connection.execute("COMMIT")
        return tuple(row[1] for row in connection.execute(f"PRAGMA table_info({table})"))
    finally:
        connection.close()
