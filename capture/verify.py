"""Proving a store: every entry's bytes, the tree over them, and everything computed from them.

Three passes. *Tree*: each entry's leaf hash, its place in the order, the kept nodes, and every
signed checkpoint (also one that somebody else kept: ``against``). *Entries*: canonical form, and
the envelope's own promises. *Decisions and projections*: the ledger is folded from its first
entry, every decision of the service and every command of a person is made again and must come out
the same, and every projection is rebuilt and compared row by row.

What it cannot find: whoever holds the bench's key and disk can cut off or rewrite entries that no
checkpoint in other hands covers. ``against`` is for those who hold one.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Iterator
from hashlib import sha256
from pathlib import Path
from typing import Any, NamedTuple

import orjson

from capture.entry import Envelope
from capture.errors import CaptureError, StoreError
from capture.ledger import checkpoint, keys, note, tree
from capture.ledger.canonical import encode
from capture.ledger.projection import Projection, differences
from capture.ledger.store import DATABASE, KEY
from capture.recompute import Recomputation

CHUNK = 4096
Progress = Callable[[str, int, int], None]
"""(pass, entries done, entries in all)"""
FINDINGS_MOST = 1000


class Finding(NamedTuple):
    """One thing wrong."""

    seq: int | None
    """The entry it concerns, where it is one."""
    code: str
    message: str


class Report(NamedTuple):
    """What ``verify`` found."""

    ok: bool
    problems: list[Finding]
    counts: dict[str, int]
    seconds: dict[str, float]
    size: int
    root: str
    checkpoints: int

    def to_json(self) -> dict[str, Any]:
        """Plain data."""
        return {**self._asdict(), "problems": [problem._asdict() for problem in self.problems]}


def verify(store: Path, *, against: str | None = None, progress: Progress | None = None) -> Report:
    """Checks a store, which may be in use. ``against``: a checkpoint's signed note text.

    Raises StoreError where there is no ledger to look at.
    """
    if not (store / DATABASE).exists():
        raise StoreError(f"There is no ledger in {store}: {store / DATABASE} is missing.")
    try:
        connection = sqlite3.connect(
            f"{(store / DATABASE).absolute().as_uri()}?mode=ro", uri=True, isolation_level=None
        )
    except sqlite3.Error as error:
        raise StoreError(f"The ledger in {store} cannot be opened: {error}.") from error
    try:
        connection.execute("BEGIN")  # one snapshot, however long it takes
        return _Verification(store, connection, progress or (lambda _p, _d, _t: None)).run(against)
    except sqlite3.DatabaseError as error:
        finding = Finding(None, "database", f"The database itself is damaged: {error}.")
        return Report(False, [finding], {}, {}, 0, "", 0)
    finally:
        connection.close()


class _Verification:
    def __init__(self, store: Path, connection: sqlite3.Connection, progress: Progress) -> None:
        self._store = store
        self._connection = connection
        self._progress = progress
        self._problems: list[Finding] = []
        self._counts: dict[str, int] = {}
        self._seconds: dict[str, float] = {}
        self._roots: dict[int, bytes] = {}
        row = connection.execute("SELECT max(seq) FROM entry").fetchone()
        self._size = int(row[0] or 0)

    def _add(self, seq: int | None, code: str, message: str) -> None:
        if len(self._problems) < FINDINGS_MOST:
            self._problems.append(Finding(seq, code, message))

    def run(self, against: str | None) -> Report:
        heads = self._checkpoints(against)
        started = time.perf_counter()
        edge = self._tree({head.size for _, head in heads})
        self._hold_against(heads, edge)
        self._seconds["tree"] = time.perf_counter() - started
        if not self._problems:
            # A changed entry would only be reported again, and its fold may mean nothing.
            started = time.perf_counter()
            self._recompute()
            self._seconds["decisions_and_projections"] = time.perf_counter() - started
        return Report(
            not self._problems,
            self._problems,
            self._counts,
            {name: round(value, 3) for name, value in self._seconds.items()},
            self._size,
            edge.root().hex(),
            len(heads),
        )

    # the tree ---------------------------------------------------------------------------------

    def _rows(self) -> Iterator[list[tuple[int, bytes, bytes]]]:
        cursor = self._connection.execute("SELECT seq, leaf, bytes FROM entry ORDER BY seq")
        while rows := cursor.fetchmany(CHUNK):
            yield rows

    def _tree(self, sizes: set[int]) -> tree.Edge:
        """Every leaf hash, the order, and the kept nodes; remembers the roots at ``sizes``."""
        edge = tree.Edge()
        wanted = sorted(size for size in sizes if 0 < size <= self._size)
        loads = orjson.loads
        for rows in self._rows():
            leaves: list[bytes] = []
            for seq, leaf, data in rows:
                made = sha256(b"\x00" + data).digest()
                if made != leaf:
                    self._add(seq, "changed", f"Entry {seq} is not what its leaf hash covers.")
                expected = edge.size + len(leaves) + 1
                if seq != expected:
                    message = f"Entry {expected} is missing: entry {seq} follows {expected - 1}."
                    self._add(expected, "missing", message)
                    return edge
                try:
                    entry = loads(data)
                    if entry["seq"] != seq:
                        message = f"Entry {seq} says of itself that it is entry {entry['seq']}."
                        self._add(seq, "reordered", message)
                    if encode(entry) != data:
                        self._add(seq, "not-canonical", f"Entry {seq} is not in canonical form.")
                except (ValueError, KeyError, TypeError, CaptureError):
                    self._add(seq, "unreadable", f"Entry {seq} is not an entry.")
                leaves.append(leaf)
                if wanted and wanted[0] == seq:
                    self._append(edge, leaves)
                    leaves = []
                    self._roots[wanted.pop(0)] = edge.root()
            self._append(edge, leaves)
            self._progress("tree", edge.size, self._size)
        row = self._connection.execute(
            "SELECT level, idx FROM node WHERE (idx + 1) << level > ?", (edge.size,)
        ).fetchone()
        if row is not None:
            message = f"Node {row[0]}/{row[1]} of the hash tree covers entries that are missing."
            self._add(edge.size + 1, "missing", message)
        return edge

    def _append(self, edge: tree.Edge, leaves: list[bytes]) -> None:
        for level, index, made in edge.append_many(leaves):
            row = self._connection.execute(
                "SELECT hash FROM node WHERE level = ? AND idx = ?", (level, index)
            ).fetchone()
            if row is None or row[0] != made:
                first, last = (index << level) + 1, (index + 1) << level
                message = (
                    f"The kept hash over entries {first} to {last} does not fit them: one of them "
                    "was changed together with its leaf hash, or the kept hash was."
                )
                self._add(first, "node", message)

    # checkpoints ------------------------------------------------------------------------------

    def _checkpoints(self, against: str | None) -> list[tuple[str, checkpoint.Checkpoint]]:
        """Every checkpoint with a name for it; bad ones become findings."""
        texts = [
            (f"the checkpoint kept over {size} entries", str(text))
            for size, text in self._connection.execute(
                "SELECT size, note FROM checkpoint ORDER BY size"
            )
        ]
        if against is not None:
            texts.append(("the checkpoint given", against))
        verifiers = self._verifiers()
        heads = []
        for name, text in texts:
            try:
                head, _ = checkpoint.open_checkpoint(text, verifiers)
            except note.NoteError as error:
                self._add(None, "checkpoint", f"{name}: {error}.")
            else:
                heads.append((name, head))
        return heads

    def _verifiers(self) -> list[note.Verifier]:
        """The bench's public key: from its key file, else from its first entry."""
        if (self._store / KEY).exists():
            return [keys.load(self._store / KEY).verifier]
        row = self._connection.execute("SELECT bytes FROM entry WHERE seq = 1").fetchone()
        if row is None:
            return []
        return [note.Verifier.parse(orjson.loads(row[0])["body"]["key"])]

    def _hold_against(
        self, heads: list[tuple[str, checkpoint.Checkpoint]], edge: tree.Edge
    ) -> None:
        fitting = 0
        for name, head in heads:
            if head.size > edge.size:
                message = f"{name} covers {head.size} entries; the ledger ends at {edge.size}."
                self._add(edge.size + 1, "tail-missing", message)
            elif head.size and self._roots.get(head.size) != head.root:
                message = (
                    f"{name} does not fit: an entry between {fitting + 1} and {head.size} was "
                    "changed, left out or put in after it was given out."
                )
                self._add(fitting + 1, "checkpoint", message)
            else:
                fitting = max(fitting, head.size)

    # decisions and projections ----------------------------------------------------------------

    def _recompute(self) -> None:
        projection = Projection()
        again = Recomputation(self._add, self._fetch)
        self._counts = again.counts
        for rows in self._rows():
            for seq, _, data in rows:
                entry: Envelope = orjson.loads(data)
                try:
                    again.add(entry)
                    projection.add(entry)
                    if entry["kind"] == "press" and "trace" in entry["body"]:
                        self._trace(seq, entry["body"])
                except (CaptureError, KeyError, TypeError, ValueError, IndexError) as error:
                    message = f"Entry {seq} cannot be folded: {type(error).__name__}: {error}"
                    self._add(seq, "fold", message)
                    return
            self._progress("decisions", rows[-1][0], self._size)
        for seq_found, message in differences(self._connection, projection):
            self._add(seq_found, "projection", message)

    def _trace(self, seq: int, body: dict[str, Any]) -> None:
        """The torque trace a press cites: there, unchanged, and read as the press says."""
        from capture.streamed import differs

        cited = body["trace"]
        row = self._connection.execute(
            "SELECT data FROM blob WHERE digest = ?", (cited["sha256"],)
        ).fetchone()
        if row is None:
            self._add(seq, "trace-missing", f"The torque trace of reading {seq} is missing.")
            return
        try:
            wrong = differs(body, row[0])
        except ValueError as error:
            self._add(seq, "trace-changed", f"The torque trace of reading {seq}: {error}")
            return
        self._counts["traces"] = self._counts.get("traces", 0) + 1
        if wrong is not None:
            self._add(seq, "trace-changed", f"The torque trace of reading {seq} {wrong}.")

    def _fetch(self, seq: int) -> Envelope | None:
        row = self._connection.execute("SELECT bytes FROM entry WHERE seq = ?", (seq,)).fetchone()
        return None if row is None else orjson.loads(row[0])
