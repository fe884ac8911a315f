"""Reading the ledger: pages, single entries and proofs, on connections of its own.

Pages are found by key, never by offset, and a page looks at a bounded number of rows: where a
filter leaves most of them out, the page may be short or empty while ``next`` moves on. Nothing
here counts rows.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from pathlib import Path
from typing import Any, NamedTuple

import orjson

from capture import resource
from capture.entry import Envelope, Kind
from capture.errors import StoreDamaged, StoreError
from capture.ledger import proof, search, tree
from capture.ledger.canonical import encode
from capture.ledger.moments import ENDLESS
from capture.ledger.reader import Reader
from capture.ledger.reader import reading as reading_only
from capture.ledger.search import Filters
from capture.ledger.store import DATABASE, Store, TreeSource
from capture.stream import Event
from capture.zero import SET_MOST

SCAN_MOST = 20_000
"""Rows one page looks at, at most."""


class Page(NamedTuple):
    """One page, oldest first; ``next`` is what to ask ``after`` for the following one."""

    items: list[bytes]
    next: int
    looked: int = 0
    """Rows looked at for a page with filters."""


def _sound(seq: int, leaf: bytes, data: bytes) -> Envelope:
    """An entry that the state is folded from: damage must show here, not in what comes of it."""
    if tree.leaf_hash(data) != leaf:
        raise StoreDamaged(
            f"Entry {seq} is not what its leaf hash covers: it was changed on disk. Run "
            "witnessmark verify on this store, and put it back from a copy."
        )
    entry: Envelope = orjson.loads(data)
    return entry


EVERY = Filters()
_OF_BUILD = ",".join(
    f"'{kind.value}'"
    for kind in (
        Kind.CLOSE,
        Kind.CONFIRMATION,
        Kind.ASSIGN,
        Kind.REWORK,
        Kind.CONCESSION,
        Kind.SCRAP,
        Kind.FIT,
        Kind.REMEASURE,
    )
)
"""Records that change what counts in a build."""
_NAMED_AFTER_BUILD = f"{_OF_BUILD},'{Kind.ACTIVATE.value}','{Kind.CHOOSE.value}'"
"""Every record of a build; named by kind, they are found by their index."""


class Archive(Reader):
    """What is on disk. Safe to call from any thread."""

    def __init__(self, folder: Path, store: Store | None = None) -> None:
        """``store`` is the open store of this same folder, for its key; None to only read."""
        super().__init__(folder / DATABASE)
        self._store = store

    # entries ----------------------------------------------------------------------------------

    @reading_only
    def entry(self, seq: int) -> bytes | None:
        """An entry's bytes."""
        row = self._connection().execute("SELECT bytes FROM entry WHERE seq = ?", (seq,)).fetchone()
        return None if row is None else row[0]

    @reading_only
    def envelope(self, seq: int) -> Envelope | None:
        """An entry, parsed."""
        data = self.entry(seq)
        return None if data is None else orjson.loads(data)

    @reading_only
    def size(self) -> int:
        """Seq of the last entry."""
        return TreeSource(self._connection()).size()

    @reading_only
    def entries(self, *, after: int = 0, limit: int = 100) -> Page:
        """The whole ledger as a feed: canonical bytes of each entry."""
        rows = self._connection().execute(
            "SELECT seq, bytes FROM entry WHERE seq > ? ORDER BY seq LIMIT ?", (after, limit)
        )
        found = rows.fetchall()
        return Page([row[1] for row in found], found[-1][0] if found else after)

    @reading_only
    def earlier_entries(
        self, *, before: int | None = None, limit: int = 100, kind: str | None = None
    ) -> Page:
        """Entries below a seq, newest first; ``next`` as with ``earlier_readings``. ``kind``:
        one of those that ``records`` has, or ``press``."""
        connection = self._connection()
        bound = ENDLESS if before is None else before
        seqs, following, looked = search.entries(connection, bound, kind, limit, SCAN_MOST)
        items = [
            connection.execute("SELECT bytes FROM entry WHERE seq = ?", (seq,)).fetchone()[0]
            for seq in seqs
        ]
        return Page(items, following, looked)

    @reading_only
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

    @reading_only
    def last_press(self, instrument: str) -> Envelope | None:
        """The newest press of an instrument."""
        row = (
            self._connection()
            .execute("SELECT max(press) FROM reading WHERE instrument = ?", (instrument,))
            .fetchone()
        )
        return None if row[0] is None else self.envelope(row[0])

    @reading_only
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

    @reading_only
    def blob(self, digest: str) -> bytes | None:
        """A stored trace by its digest."""
        row = (
            self._connection()
            .execute("SELECT data FROM blob WHERE digest = ?", (digest,))
            .fetchone()
        )
        return None if row is None else bytes(row[0])

    @reading_only
    def newest(self, kind: Kind) -> list[Envelope]:
        """The newest record of this kind for each name it has, oldest first."""
        rows = self._connection().execute(
            "SELECT bytes FROM entry WHERE seq IN"
            " (SELECT max(seq) FROM record WHERE kind = ? GROUP BY name) ORDER BY seq",
            (kind.value,),
        )
        return [orjson.loads(row[0]) for row in rows]

    @reading_only
    def entries_of_build(self, build: str) -> list[Envelope]:
        """Everything that a build's state is folded from, in order. Raises StoreDamaged."""
        rows = self._connection().execute(
            "SELECT seq, leaf, bytes FROM entry WHERE seq IN ("
            " SELECT press + 1 FROM reading WHERE build = :b"
            " UNION SELECT press + 1 FROM reading WHERE moved_from = :b"
            f" UNION SELECT seq FROM record WHERE kind IN ({_NAMED_AFTER_BUILD}) AND name = :b"
            " UNION SELECT seq FROM record WHERE kind = 'decision'"
            ") ORDER BY seq",
            {"b": build},
        )
        return [_sound(*row) for row in rows.fetchall()]

    @reading_only
    def key(self, key: str) -> tuple[int, str] | None:
        """(seq, request digest) recorded under an idempotency key."""
        row = (
            self._connection()
            .execute("SELECT seq, request FROM idempotency WHERE key = ?", (key,))
            .fetchone()
        )
        return None if row is None else (int(row[0]), str(row[1]))

    @reading_only
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

    @reading_only
    def readings(self, *, after: int = 0, limit: int = 100, filters: Filters = EVERY) -> Page:
        """Readings with press seq above ``after``, oldest first, each as JSON, with their current
        decision. Raises StoreError."""
        connection = self._connection()
        head = TreeSource(connection).size()
        found = self._find(connection, filters, (after, head + 1), False, limit)
        following = max(head, after) if found.whole else found.last
        return self._page(connection, found, following)

    @reading_only
    def earlier_readings(
        self, *, before: int | None = None, limit: int = 100, filters: Filters = EVERY
    ) -> Page:
        """Readings with press seq below ``before`` (None: the newest), newest first; ``next`` is
        what to ask ``before`` for the following page, 0 where there is none. Raises StoreError."""
        connection = self._connection()
        head = TreeSource(connection).size()
        bound = head + 1 if before is None else min(before, head + 1)
        found = self._find(connection, filters, (0, bound), True, limit)
        return self._page(connection, found, 0 if found.whole else found.last)

    def _find(
        self,
        connection: sqlite3.Connection,
        filters: Filters,
        bounds: tuple[int, int],
        newest_first: bool,
        limit: int,
    ) -> search.Found:
        # one snapshot: what is found and how it is found must be of the same moment
        connection.execute("BEGIN")
        try:
            return search.find(
                connection, filters, bounds, newest_first=newest_first, limit=limit, scan=SCAN_MOST
            )
        finally:
            connection.execute("ROLLBACK")

    def _page(self, connection: sqlite3.Connection, found: search.Found, following: int) -> Page:
        items = [self._resource(connection, *pair) for pair in found.pairs]
        return Page(items, following, found.looked)

    @reading_only
    def reasons(self) -> list[str]:
        """The reasons for which some reading is not placed."""
        return search.reasons(self._connection())

    @reading_only
    def operators(self) -> list[str]:
        """Everyone who was at the bench for some reading."""
        return search.operators(self._connection())

    def _resource(self, connection: sqlite3.Connection, press: int, decision: int) -> bytes:
        first, second = (
            orjson.loads(
                connection.execute("SELECT bytes FROM entry WHERE seq = ?", (seq,)).fetchone()[0]
            )
            for seq in (press, decision)
        )
        return encode(resource.reading(first, second))

    @reading_only
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

    @reading_only
    def decision(self, press: int) -> Envelope | None:
        """The decision that counts for a press."""
        seq = self._decision_seq(press)
        return None if seq is None else self.envelope(seq)

    @reading_only
    def build_of(self, press: int) -> str | None:
        """The build a reading stands in."""
        row = (
            self._connection()
            .execute("SELECT build FROM reading WHERE press = ?", (press,))
            .fetchone()
        )
        return None if row is None else row[0]

    # events -----------------------------------------------------------------------------------

    @reading_only
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

    @reading_only
    def inclusion(self, seq: int, size: int | None = None) -> dict[str, Any]:
        """What shows that entry ``seq`` is in the tree of ``size`` entries."""
        return proof.inclusion(TreeSource(self._connection()), seq, self.entry(seq), size)

    @reading_only
    def consistency(self, first: int, second: int | None = None) -> dict[str, Any]:
        """What shows that the tree of ``second`` entries begins with that of ``first``."""
        return proof.consistency(TreeSource(self._connection()), first, second)

    @reading_only
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

    # one instrument, one build, over years ------------------------------------------------------

    @reading_only
    def records_of(self, kind: str, name: str | None, *, limit: int = 100) -> list[Envelope]:
        """The newest records of a kind with this name (``capture.ledger.record``), oldest first."""
        rows = self._connection().execute(
            "SELECT entry.bytes FROM record JOIN entry USING (seq) WHERE kind = ? AND name IS ?"
            " ORDER BY record.seq DESC LIMIT ?",
            (kind, name, limit),
        )
        return [orjson.loads(row[0]) for row in rows][::-1]

    @reading_only
    def decisions_of(self, instrument: str, *, limit: int = 100) -> list[Envelope]:
        """The decisions that count for the newest presses of an instrument, newest press first."""
        rows = self._connection().execute(
            "SELECT bytes FROM reading JOIN entry ON seq = decision WHERE instrument = ?"
            " ORDER BY press DESC LIMIT ?",
            (instrument, limit),
        )
        return [orjson.loads(row[0]) for row in rows]

    @reading_only
    def counted_of_build(self, build: str) -> list[Envelope]:
        """What a build's answers follow from, in order: of each reading that stands in it only the
        decision that counts, and the build's own records. Enough for ``capture.inquiry.aside``
        and quick; ``entries_of_build`` is whole. Raises StoreDamaged."""
        rows = self._connection().execute(
            "SELECT seq, leaf, bytes FROM entry WHERE seq IN ("
            " SELECT decision FROM reading WHERE build = ?1"
            f" UNION SELECT seq FROM record WHERE kind IN ({_OF_BUILD}) AND name = ?1"
            ") ORDER BY seq",
            (build,),
        )
        return [_sound(*row) for row in rows.fetchall()]

    @reading_only
    def mark_of_build(self, build: str) -> tuple[int, int, int]:
        """Changes whenever ``counted_of_build`` would give something else."""
        count, decided = (
            self._connection()
            .execute("SELECT count(*), max(decision) FROM reading WHERE build = ?", (build,))
            .fetchone()
        )
        (recorded,) = (
            self._connection()
            .execute(
                f"SELECT max(seq) FROM record WHERE kind IN ({_OF_BUILD}) AND name = ?", (build,)
            )
            .fetchone()
        )
        return count, decided or 0, recorded or 0
