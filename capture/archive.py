"""Reading the ledger: pages, single entries and proofs, on connections of its own.

Pages are found by key, never by offset, and a page looks at a bounded number of rows: where a
filter leaves most of them out, the page may be short or empty while ``next`` moves on. Nothing
here counts rows.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterable
from functools import wraps
from pathlib import Path
from typing import Any, Concatenate, NamedTuple, ParamSpec, TypeVar

import orjson

from capture import resource
from capture.entry import Envelope, Kind
from capture.errors import StoreDamaged, StoreError
from capture.ledger import proof, tree
from capture.ledger.canonical import encode
from capture.ledger.store import DATABASE, Store, TreeSource
from capture.stream import Event
from capture.zero import SET_MOST

SCAN_MOST = 20_000
"""Rows one page looks at, at most."""


class Page(NamedTuple):
    """One page, oldest first; ``next`` is what to ask ``after`` for the following one."""

    items: list[bytes]
    next: int


P = ParamSpec("P")
T = TypeVar("T")


def _reading(
    method: Callable[Concatenate[Archive, P], T],
) -> Callable[Concatenate[Archive, P], T]:
    """Counts a call that reads, so that ``close`` can wait for it: closing a connection under a
    thread that is using it crashes the process."""

    @wraps(method)
    def counted(archive: Archive, /, *arguments: P.args, **named: P.kwargs) -> T:
        archive._enter()
        try:
            return method(archive, *arguments, **named)
        finally:
            archive._leave()

    return counted


def _sound(seq: int, leaf: bytes, data: bytes) -> Envelope:
    """An entry that the state is folded from: damage must show here, not in what comes of it."""
    if tree.leaf_hash(data) != leaf:
        raise StoreDamaged(
            f"Entry {seq} is not what its leaf hash covers: it was changed on disk. Run "
            "witnessmark verify on this store, and put it back from a copy."
        )
    entry: Envelope = orjson.loads(data)
    return entry


ENDLESS = 2**62
"""Beyond every seq."""


class Archive:
    """What is on disk. Safe to call from any thread."""

    def __init__(self, folder: Path, store: Store | None = None) -> None:
        """``store`` is the open store of this same folder, for its key; None to only read."""
        self._path = folder / DATABASE
        self._store = store
        self._local = threading.local()
        self._connections: list[sqlite3.Connection] = []
        self._guard = threading.Lock()
        self._idle = threading.Condition()
        self._active = 0
        self._closed = False
        self._connection()

    def _connection(self) -> sqlite3.Connection:
        """This thread's connection."""
        found: sqlite3.Connection | None = getattr(self._local, "connection", None)
        if found is None:
            try:
                found = sqlite3.connect(
                    f"{self._path.absolute().as_uri()}?mode=ro",
                    uri=True,
                    isolation_level=None,
                    check_same_thread=False,
                )
            except sqlite3.Error as error:
                raise StoreError(f"The ledger {self._path} cannot be read: {error}.") from error
            self._local.connection = found
            with self._guard:
                self._connections.append(found)
        return found

    def _enter(self) -> None:
        with self._idle:
            if self._closed:
                raise StoreError("The store is closed.")
            self._active += 1

    def _leave(self) -> None:
        with self._idle:
            self._active -= 1
            if not self._active:
                self._idle.notify_all()

    def close(self) -> None:
        """Closes every thread's connection, once what is being read has been read."""
        with self._idle:
            self._closed = True
            self._idle.wait_for(lambda: not self._active)
        with self._guard:
            for connection in self._connections:
                connection.close()
            self._connections.clear()
        self._local = threading.local()

    # entries ----------------------------------------------------------------------------------

    @_reading
    def entry(self, seq: int) -> bytes | None:
        """An entry's bytes."""
        row = self._connection().execute("SELECT bytes FROM entry WHERE seq = ?", (seq,)).fetchone()
        return None if row is None else row[0]

    @_reading
    def envelope(self, seq: int) -> Envelope | None:
        """An entry, parsed."""
        data = self.entry(seq)
        return None if data is None else orjson.loads(data)

    @_reading
    def size(self) -> int:
        """Seq of the last entry."""
        return TreeSource(self._connection()).size()

    @_reading
    def entries(self, *, after: int = 0, limit: int = 100) -> Page:
        """The whole ledger as a feed: canonical bytes of each entry."""
        rows = self._connection().execute(
            "SELECT seq, bytes FROM entry WHERE seq > ? ORDER BY seq LIMIT ?", (after, limit)
        )
        found = rows.fetchall()
        return Page([row[1] for row in found], found[-1][0] if found else after)

    @_reading
    def records(self) -> list[Envelope]:
        """Everything but device presses, their rule decisions (zero checks come) and undecodable
        bytes, in order.

        Raises StoreDamaged where one of them is not what its leaf hash covers.
        """
        rows = self._connection().execute(
            "SELECT seq, leaf, bytes FROM record JOIN entry USING (seq) WHERE kind <> ?"
            " ORDER BY record.seq",
            (Kind.UNDECODABLE.value,),
        )
        return [_sound(*row) for row in rows.fetchall()]

    @_reading
    def last_press(self, instrument: str) -> Envelope | None:
        """The newest press of an instrument."""
        row = (
            self._connection()
            .execute("SELECT max(press) FROM reading WHERE instrument = ?", (instrument,))
            .fetchone()
        )
        return None if row[0] is None else self.envelope(row[0])

    @_reading
    def set_since(self, instrument: str, opened: int, until: int | None = None) -> list[int]:
        """The newest presses of an instrument after ``opened`` and before ``until``, in order."""
        rows = self._connection().execute(
            "SELECT press FROM reading WHERE instrument = ? AND press > ? AND press < ?"
            " ORDER BY press DESC LIMIT ?",
            (instrument, opened, until or ENDLESS, SET_MOST),
        )
        return sorted(row[0] for row in rows)

    def envelopes(self, seqs: Iterable[int]) -> dict[int, Envelope]:
        """Entries by seq; those there are."""
        found = ((seq, self.envelope(seq)) for seq in seqs)
        return {seq: entry for seq, entry in found if entry is not None}

    @_reading
    def blob(self, digest: str) -> bytes | None:
        """A stored trace by its digest."""
        row = (
            self._connection()
            .execute("SELECT data FROM blob WHERE digest = ?", (digest,))
            .fetchone()
        )
        return None if row is None else bytes(row[0])

    @_reading
    def newest(self, kind: Kind) -> list[Envelope]:
        """The newest record of this kind for each name it has, oldest first."""
        rows = self._connection().execute(
            "SELECT bytes FROM entry WHERE seq IN"
            " (SELECT max(seq) FROM record WHERE kind = ? GROUP BY name) ORDER BY seq",
            (kind.value,),
        )
        return [orjson.loads(row[0]) for row in rows]

    @_reading
    def entries_of_build(self, build: str) -> list[Envelope]:
        """Everything that a build's state is folded from, in order. Raises StoreDamaged."""
        rows = self._connection().execute(
            "SELECT seq, leaf, bytes FROM entry WHERE seq IN ("
            " SELECT press + 1 FROM reading WHERE build = :b"
            " UNION SELECT press + 1 FROM reading WHERE moved_from = :b"
            " UNION SELECT seq FROM record WHERE name = :b"
            " UNION SELECT seq FROM record WHERE kind = 'decision'"
            ") ORDER BY seq",
            {"b": build},
        )
        return [_sound(*row) for row in rows.fetchall()]

    @_reading
    def key(self, key: str) -> tuple[int, str] | None:
        """(seq, request digest) recorded under an idempotency key."""
        row = (
            self._connection()
            .execute("SELECT seq, request FROM idempotency WHERE key = ?", (key,))
            .fetchone()
        )
        return None if row is None else (int(row[0]), str(row[1]))

    @_reading
    def spec_text(self, digest: str) -> str | None:
        """A spec's text by its hash. Raises StoreDamaged."""
        row = (
            self._connection()
            .execute("SELECT seq FROM record WHERE kind = 'spec' AND name = ?", (digest,))
            .fetchone()
        )
        if row is None:
            return None
        found = self._connection().execute(
            "SELECT seq, leaf, bytes FROM entry WHERE seq = ?", (row[0],)
        )
        return str(_sound(*found.fetchone())["body"]["text"])

    # readings ---------------------------------------------------------------------------------

    @_reading
    def readings(
        self,
        *,
        after: int = 0,
        limit: int = 100,
        build: str | None = None,
        instrument: str | None = None,
        since: str | None = None,
        until: str | None = None,
    ) -> Page:
        """Readings with press seq above ``after``, each as JSON, with their current decision.

        ``since`` (inclusive) and ``until`` (exclusive) are RFC 3339 UTC text as entries have it.
        """
        filters = [
            (column, value)
            for column, value in (("build", build), ("instrument", instrument))
            if value is not None
        ]
        where = "".join(f" AND {column} = ?" for column, _ in filters)
        values = [value for _, value in filters]
        connection = self._connection()
        head = TreeSource(connection).size()
        rows = connection.execute(
            f"SELECT press, decision, at FROM reading WHERE press > ? AND press <= ?{where}"
            " ORDER BY press LIMIT ?",
            (after, head, *values, SCAN_MOST),
        )
        chosen: list[tuple[int, int]] = []
        scanned, last = 0, after
        for press, decision, at in rows:
            scanned, last = scanned + 1, press
            if (since is None or at >= since) and (until is None or at < until):
                chosen.append((press, decision))
                if len(chosen) == limit:
                    break
        whole = scanned < SCAN_MOST and len(chosen) < limit
        items = [self._resource(connection, *pair) for pair in chosen]
        return Page(items, max(head, after) if whole else last)

    def _resource(self, connection: sqlite3.Connection, press: int, decision: int) -> bytes:
        first, second = (
            orjson.loads(
                connection.execute("SELECT bytes FROM entry WHERE seq = ?", (seq,)).fetchone()[0]
            )
            for seq in (press, decision)
        )
        return encode(resource.reading(first, second))

    @_reading
    def reading(self, seq: int) -> bytes | None:
        """One reading as JSON, by the seq of its press."""
        decision = self._decision_seq(seq)
        return None if decision is None else self._resource(self._connection(), seq, decision)

    def _decision_seq(self, press: int) -> int | None:
        row = (
            self._connection()
            .execute("SELECT decision FROM reading WHERE press = ?", (press,))
            .fetchone()
        )
        return None if row is None else int(row[0])

    @_reading
    def decision(self, press: int) -> Envelope | None:
        """The decision that counts for a press."""
        seq = self._decision_seq(press)
        return None if seq is None else self.envelope(seq)

    @_reading
    def build_of(self, press: int) -> str | None:
        """The build a reading stands in."""
        row = (
            self._connection()
            .execute("SELECT build FROM reading WHERE press = ?", (press,))
            .fetchone()
        )
        return None if row is None else row[0]

    # events -----------------------------------------------------------------------------------

    @_reading
    def events(self, after: int, limit: int = 1000) -> list[Event]:
        """The events of the entries after a seq, as they were published live; ``limit`` entries
        are looked at, so fewer events than that may come. Empty only at the ledger's end."""
        rows = self._connection().execute(
            "SELECT seq, bytes FROM entry WHERE seq > ? ORDER BY seq LIMIT ?", (after, limit)
        )
        found: list[Event] = []
        presses: dict[int, Envelope] = {}
        last = 0
        for seq, data in rows:
            last = seq
            entry = orjson.loads(data)
            kind = entry["kind"]
            if kind == "press":
                presses[seq] = entry
            elif kind == "decision":
                number = entry["body"]["press"]
                press = presses.get(number) or self.envelope(number)
                if press is not None:
                    found.append(Event(seq, "reading", encode(resource.reading(press, entry))))
            else:
                found.append(Event(seq, "entry", data))
        if not found and last:
            return self.events(last, limit)
        return found

    # proofs -----------------------------------------------------------------------------------

    @_reading
    def inclusion(self, seq: int, size: int | None = None) -> dict[str, Any]:
        """What shows that entry ``seq`` is in the tree of ``size`` entries."""
        return proof.inclusion(TreeSource(self._connection()), seq, self.entry(seq), size)

    @_reading
    def consistency(self, first: int, second: int | None = None) -> dict[str, Any]:
        """What shows that the tree of ``second`` entries begins with that of ``first``."""
        return proof.consistency(TreeSource(self._connection()), first, second)

    @_reading
    def checkpoint(self) -> str | None:
        """The newest signed checkpoint in the store; None where none was signed yet."""
        row = self._connection().execute("SELECT note FROM checkpoint ORDER BY size DESC LIMIT 1")
        found = row.fetchone()
        return None if found is None else str(found[0])

    def verifier_key(self) -> str:
        """The bench's public key as verifier key text."""
        if self._store is None:
            raise StoreError("The store is not open for writing here.")
        return self._store.key.verifier.text
