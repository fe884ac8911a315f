"""The ledger's disk side: one SQLite file, one writer, every commit synced before it returns.

A commit that fails leaves the outcome unknown until it has been looked at: the sync may have
failed after the write (then the entries are there on reopening but perhaps only in the kernel's
memory), or nothing was written. ``reopen`` settles it. It does not trust a later sync to cover an
earlier one that failed; it copies the write-ahead log into the database file and syncs that, so
that whatever is found afterwards is on disk for good.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import orjson

from capture.errors import OutcomeUnknown, StoreDamaged, StoreError, StoreInUse
from capture.ledger import checkpoint, keys, note, projection, schema, tree
from capture.ledger.order import Order, order_of
from capture.ledger.rows import RowWriter

DATABASE = "ledger.db"
KEY = "bench.key"
LOCK = "lock.db"
BUSY_MS = 10_000
BUSY_REOPENING_MS = 200
PAGE_BYTES = 2048
"""A lone press touches four pages and syncs them whole: half the usual size makes that a tenth
quicker, while a page still holds three entries."""
LOG_BYTES = 2 * 1024 * 1024
"""How far the write-ahead log grows before it is copied into the database."""


class Rows(NamedTuple):
    """What one transaction writes: flat lists of column values (see ``RowWriter``)."""

    entries: list[object]
    """seq, leaf, bytes"""
    readings: list[object]
    """press, decision, instrument, at, build, moved_from, operator, standing, corrected"""
    redecided: list[object]
    """The same, of readings that are there already."""
    records: list[object]
    """seq, kind, name"""
    keys: list[object]
    """key, seq, request"""
    blobs: list[object]
    """digest, data"""
    clock_back: list[object]
    """press"""
    shifts: list[object]
    """press, operator"""


_READING = (
    "press", "decision", "instrument", "at", "build", "moved_from",
    "operator", "standing", "corrected",
)  # fmt: skip


class Store:
    """A store folder, open for writing. Not safe for two threads at once."""

    _entries = RowWriter("entry", ("seq", "leaf", "bytes"))
    _nodes = RowWriter("node", ("level", "idx", "hash"))
    _readings = RowWriter("reading", _READING)
    _redecided = RowWriter("reading", _READING, replace=True)
    _records = RowWriter("record", ("seq", "kind", "name"))
    _keys = RowWriter("idempotency", ("key", "seq", "request"))
    _blobs = RowWriter("blob", ("digest", "data"), replace=True)
    _clock_back = RowWriter("clock_back", ("press",))
    _shifts = RowWriter("shift", ("press", "operator"))

    def __init__(self, folder: Path) -> None:
        """Opens (or makes) a store. Raises StoreInUse, StoreDamaged or StoreError."""
        self.folder = folder
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise StoreError(f"The store folder {folder} cannot be made: {error}.") from error
        self._lock = _lock(folder)
        try:
            fresh = not (folder / DATABASE).exists()
            if not fresh and not (folder / KEY).exists():
                raise StoreDamaged(
                    f"{folder} has a ledger but no {KEY}: without its key nothing can be added. "
                    "Put the key back from a copy, or start a new store."
                )
            self.key = keys.load_or_create(folder / KEY)
            self._settle_log()
            self._connection = self._connect()
            self.edge = tree.Edge()
            self.order = Order()
            self._look()
        except BaseException:
            self._lock.close()
            raise

    # opening ----------------------------------------------------------------------------------

    def _connect(self) -> sqlite3.Connection:
        try:
            connection = sqlite3.connect(
                self.folder / DATABASE,
                isolation_level=None,
                check_same_thread=False,
                cached_statements=64,
            )
            connection.execute(f"PRAGMA busy_timeout = {BUSY_MS}")
            connection.execute(f"PRAGMA page_size = {PAGE_BYTES}")  # of a file not yet made
            connection.execute(f"PRAGMA wal_autocheckpoint = {LOG_BYTES // PAGE_BYTES}")
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            schema.migrate(connection)
        except sqlite3.DatabaseError as error:
            raise StoreError(f"The ledger in {self.folder} cannot be opened: {error}.") from error
        return connection

    def _settle_log(self) -> None:
        """Writes the write-ahead log's bytes over themselves and syncs them.

        After a sync that failed, here or in a service that ran before, the kernel may hold pages
        that it counts as written although they never reached the disk: they can be read, so
        SQLite finds whole transactions in them, yet no later sync writes them, and a power cut
        would take them and all that was logged behind them. Writing them again makes them count.
        Raises StoreError while that is not possible.
        """
        try:
            with open(self.folder / f"{DATABASE}-wal", "r+b", buffering=0) as log:
                at = 0
                while part := log.read(1 << 20):
                    log.seek(at)
                    at += log.write(part)
                    log.seek(at)
                os.fsync(log.fileno())
        except FileNotFoundError:
            return
        except OSError as error:
            raise StoreError(f"The ledger's log cannot be made durable: {error}.") from error

    def _look(self) -> None:
        """Reads the right edge and holds it against the newest checkpoint given out."""
        source = TreeSource(self._connection)
        self.edge = tree.edge_from(source, source.size())
        self.order = order_of(self._connection)
        row = self._connection.execute(
            "SELECT note FROM checkpoint ORDER BY size DESC LIMIT 1"
        ).fetchone()
        if row is None:
            return
        head = checkpoint.Checkpoint.parse(note.parse(str(row[0])).text)
        if head.size > self.edge.size:
            raise StoreDamaged(
                f"A checkpoint over {head.size} entries was given out, but the ledger ends at "
                f"{self.edge.size}: its tail is missing. Nothing is added to such a ledger; put "
                "the missing part back from a copy, or start a new store."
            )
        if tree.root_from(source, head.size) != head.root:
            raise StoreDamaged(
                f"The first {head.size} entries do not give the root of the checkpoint given out "
                "over them. Run witnessmark verify on this store to see which entry changed."
            )

    def reopen(self) -> int:
        """After a failed commit: reopens, makes what is there durable, and gives the size.

        Raises StoreError while that is not possible; call it again later.
        """
        with contextlib.suppress(sqlite3.Error):
            self._connection.close()
        self._settle_log()
        self._connection = self._connect()
        try:
            # While somebody reads, the log stays; it was just written again and synced, so what
            # is found in it is on disk for good either way.
            self._connection.execute(f"PRAGMA busy_timeout = {BUSY_REOPENING_MS}")
            self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
            self._connection.execute(f"PRAGMA busy_timeout = {BUSY_MS}")
        except sqlite3.DatabaseError as error:
            raise StoreError(f"The ledger cannot be made durable yet: {error}.") from error
        # The log is empty now, but on disk only once that is synced: until then a power cut could
        # bring back what is about to be called not stored.
        self._settle_log()
        self._look()
        return self.edge.size

    def close(self) -> None:
        """Closes the database and lets the store go."""
        self._connection.close()
        self._lock.close()

    def rebuild_projections(self) -> None:
        """Makes every projection anew from the entries. Raises StoreError."""
        rows = self._connection.execute("SELECT bytes FROM entry ORDER BY seq")
        try:
            projection.rebuild(self._connection, (orjson.loads(row[0]) for row in rows))
        except sqlite3.DatabaseError as error:
            raise StoreError(f"The projections could not be rebuilt: {error}.") from error

    # writing ----------------------------------------------------------------------------------

    @property
    def size(self) -> int:
        """Entries in the ledger; the seq of the last one."""
        return self.edge.size

    def commit(self, leaves: Sequence[bytes], rows: Rows) -> None:
        """Appends entries and their projections in one synced transaction.

        ``leaves`` are the entries' leaf hashes, in order. Raises OutcomeUnknown if it fails in
        any way; then only ``reopen`` can tell, and nothing else may be called before it.
        """
        connection = self._connection
        edge = self.edge.copy()
        nodes = edge.append_many(leaves)
        try:
            connection.execute("BEGIN IMMEDIATE")
            self._entries.write(connection, rows.entries)
            if nodes:
                self._nodes.write(connection, [value for node in nodes for value in node])
            if rows.readings:
                self._readings.write(connection, rows.readings)
            if rows.redecided:
                self._redecided.write(connection, rows.redecided)
            if rows.records:
                self._records.write(connection, rows.records)
            if rows.keys:
                self._keys.write(connection, rows.keys)
            if rows.blobs:
                self._blobs.write(connection, rows.blobs)
            if rows.clock_back:
                self._clock_back.write(connection, rows.clock_back)
            if rows.shifts:
                self._shifts.write(connection, rows.shifts)
            connection.execute("COMMIT")
        except sqlite3.DatabaseError as error:
            raise OutcomeUnknown(f"Writing to the ledger failed: {error}.") from error
        self.edge = edge

    def sign(self) -> str:
        """The signed checkpoint of the ledger as it stands; kept, so that it is never
        contradicted. Raises StoreError."""
        size = self.size
        try:
            row = self._connection.execute(
                "SELECT note FROM checkpoint WHERE size = ?", (size,)
            ).fetchone()
            if row is not None:
                return str(row[0])
            head = checkpoint.Checkpoint(self.key.origin, size, self.edge.root())
            signed = self.key.sign(head.text())
            self._connection.execute("INSERT INTO checkpoint VALUES (?, ?)", (size, signed))
        except sqlite3.DatabaseError as error:
            raise StoreError(f"The checkpoint could not be kept: {error}.") from error
        return signed


class TreeSource:
    """Stored hashes, for proofs and for the right edge."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection

    def size(self) -> int:
        """Seq of the last entry."""
        row = self._connection.execute("SELECT max(seq) FROM entry").fetchone()
        return int(row[0] or 0)

    def leaf_hashes(self, start: int, stop: int) -> list[bytes]:
        rows = self._connection.execute(
            "SELECT leaf FROM entry WHERE seq > ? AND seq <= ? ORDER BY seq", (start, stop)
        )
        return [row[0] for row in rows]

    def node(self, level: int, index: int) -> bytes:
        row = self._connection.execute(
            "SELECT hash FROM node WHERE level = ? AND idx = ?", (level, index)
        ).fetchone()
        if row is None:
            raise StoreDamaged(f"Node {level}/{index} of the hash tree is missing.")
        return bytes(row[0])


def _lock(folder: Path) -> sqlite3.Connection:
    """Holds the store for one service: SQLite's own locks work the same on every system, and
    end with the process however it ends."""
    connection = sqlite3.connect(
        folder / LOCK, isolation_level=None, timeout=0, check_same_thread=False
    )
    try:
        connection.execute("BEGIN EXCLUSIVE")
    except sqlite3.OperationalError as error:
        connection.close()
        if "locked" in str(error):
            raise StoreInUse(
                f"Another service is using the store {folder}. Stop it first, or give this one "
                "another folder with --store."
            ) from error
        raise StoreError(f"The store {folder} cannot be locked: {error}.") from error
    return connection
