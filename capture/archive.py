"""Reading the ledger: pages, single entries and proofs, on connections of its own.

Pages are found by key, never by offset, and a page looks at a bounded number of rows: where a
filter leaves most of them out, the page may be short or empty while ``next`` moves on. Nothing
here counts rows.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import orjson

from capture import resource
from capture.entry import Envelope, Kind
from capture.errors import NotFound, StoreError
from capture.ledger import tree
from capture.ledger.canonical import encode
from capture.ledger.store import DATABASE, Store, TreeSource
from capture.stream import Event

SCAN_MOST = 20_000
"""Rows one page looks at, at most."""


class Page(NamedTuple):
    """One page, oldest first; ``next`` is what to ask ``after`` for the following one."""

    items: list[bytes]
    next: int


class Archive:
    """What is on disk. Safe to call from any thread."""

    def __init__(self, folder: Path, store: Store | None = None) -> None:
        """``store`` is the open store of this same folder, for its key; None to only read."""
        self._path = folder / DATABASE
        self._store = store
        self._local = threading.local()
        self._connections: list[sqlite3.Connection] = []
        self._guard = threading.Lock()
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

    def close(self) -> None:
        """Closes every thread's connection; no thread may be reading."""
        with self._guard:
            for connection in self._connections:
                connection.close()
            self._connections.clear()
        self._local = threading.local()

    # entries ----------------------------------------------------------------------------------

    def entry(self, seq: int) -> bytes | None:
        """An entry's bytes."""
        row = self._connection().execute("SELECT bytes FROM entry WHERE seq = ?", (seq,)).fetchone()
        return None if row is None else row[0]

    def envelope(self, seq: int) -> Envelope | None:
        """An entry, parsed."""
        data = self.entry(seq)
        return None if data is None else orjson.loads(data)

    def size(self) -> int:
        """Seq of the last entry."""
        return TreeSource(self._connection()).size()

    def entries(self, *, after: int = 0, limit: int = 100) -> Page:
        """The whole ledger as a feed: canonical bytes of each entry."""
        rows = self._connection().execute(
            "SELECT seq, bytes FROM entry WHERE seq > ? ORDER BY seq LIMIT ?", (after, limit)
        )
        found = rows.fetchall()
        return Page([row[1] for row in found], found[-1][0] if found else after)

    def records(self) -> Iterator[Envelope]:
        """Everything but device presses, their rule decisions and undecodable bytes, in order."""
        rows = self._connection().execute(
            "SELECT bytes FROM record JOIN entry USING (seq) WHERE kind <> ? ORDER BY record.seq",
            (Kind.UNDECODABLE.value,),
        )
        for row in rows:
            yield orjson.loads(row[0])

    def newest(self, kind: Kind) -> list[Envelope]:
        """The newest record of this kind for each name it has, oldest first."""
        rows = self._connection().execute(
            "SELECT bytes FROM entry WHERE seq IN"
            " (SELECT max(seq) FROM record WHERE kind = ? GROUP BY name) ORDER BY seq",
            (kind.value,),
        )
        return [orjson.loads(row[0]) for row in rows]

    def entries_of_build(self, build: str) -> list[Envelope]:
        """Everything that a build's state is folded from, in order."""
        rows = self._connection().execute(
            "SELECT seq, bytes FROM entry WHERE seq IN ("
            " SELECT press + 1 FROM reading WHERE build = :b"
            " UNION SELECT press + 1 FROM reading WHERE moved_from = :b"
            " UNION SELECT seq FROM record WHERE name = :b"
            " UNION SELECT seq FROM record WHERE kind = 'decision'"
            ") ORDER BY seq",
            {"b": build},
        )
        return [orjson.loads(row[1]) for row in rows]

    def key(self, key: str) -> tuple[int, str] | None:
        """(seq, request digest) recorded under an idempotency key."""
        row = (
            self._connection()
            .execute("SELECT seq, request FROM idempotency WHERE key = ?", (key,))
            .fetchone()
        )
        return None if row is None else (int(row[0]), str(row[1]))

    def spec_text(self, digest: str) -> str | None:
        """A spec's text by its hash."""
        row = (
            self._connection()
            .execute("SELECT seq FROM record WHERE kind = 'spec' AND name = ?", (digest,))
            .fetchone()
        )
        entry = None if row is None else self.envelope(row[0])
        return None if entry is None else str(entry["body"]["text"])

    # readings ---------------------------------------------------------------------------------

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

    def decision(self, press: int) -> Envelope | None:
        """The decision that counts for a press."""
        seq = self._decision_seq(press)
        return None if seq is None else self.envelope(seq)

    def build_of(self, press: int) -> str | None:
        """The build a reading stands in."""
        row = (
            self._connection()
            .execute("SELECT build FROM reading WHERE press = ?", (press,))
            .fetchone()
        )
        return None if row is None else row[0]

    # events -----------------------------------------------------------------------------------

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

    def _tree_size(self, size: int | None, source: TreeSource) -> int:
        head = source.size()
        if size is None:
            return head
        if not 1 <= size <= head:
            raise NotFound(f"There is no tree of {size} entries; the ledger has {head}.")
        return size

    def inclusion(self, seq: int, size: int | None = None) -> dict[str, Any]:
        """What shows that entry ``seq`` is in the tree of ``size`` entries."""
        connection = self._connection()
        source = TreeSource(connection)
        wanted = self._tree_size(size, source)
        data = self.entry(seq)
        if data is None or seq > wanted:
            raise NotFound(f"There is no entry {seq} in the tree of {wanted}.")
        proof = tree.inclusion_proof(seq - 1, wanted, source)
        return {
            "seq": seq,
            "leaf_index": seq - 1,
            "tree_size": wanted,
            "leaf_hash": tree.leaf_hash(data).hex(),
            "root_hash": tree.root_from(source, wanted).hex(),
            "inclusion_path": [value.hex() for value in proof],
            "entry": data.decode(),
        }

    def consistency(self, first: int, second: int | None = None) -> dict[str, Any]:
        """What shows that the tree of ``second`` entries begins with that of ``first``."""
        source = TreeSource(self._connection())
        wanted = self._tree_size(second, source)
        if not 1 <= first <= wanted:
            raise NotFound(f"A tree of {first} entries is no beginning of one of {wanted}.")
        return {
            "first": first,
            "second": wanted,
            "first_root": tree.root_from(source, first).hex(),
            "second_root": tree.root_from(source, wanted).hex(),
            "consistency_path": [
                value.hex() for value in tree.consistency_proof(first, wanted, source)
            ],
        }

    def verifier_key(self) -> str:
        """The bench's public key as verifier key text."""
        if self._store is None:
            raise StoreError("The store is not open for writing here.")
        return self._store.key.verifier.text
