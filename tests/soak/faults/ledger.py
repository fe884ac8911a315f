"""The oracle: what must hold of a store of ours after any fault.

What was acknowledged is stored; entries, tree and projections fit together; SQLite finds no
damage; nothing is there twice; every checkpoint given out is a prefix of the tree.

It reads the tables itself and shares with the product the hash tree alone, which is tested
against published vectors.
"""

from __future__ import annotations

import base64
import contextlib
import json
import shutil
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

from capture.ledger import tree

DATABASE = "ledger.db"


@dataclass
class Found:
    """What a store holds."""

    entries: list[dict[str, Any]]
    leaves: list[bytes]
    keys: dict[str, int]
    """Idempotency keys and the seq each led to."""

    @property
    def size(self) -> int:
        return len(self.entries)

    def presses(self) -> dict[int, dict[str, Any]]:
        """Bodies of presses by their seq."""
        return {e["seq"]: e["body"] for e in self.entries if e["kind"] == "press"}


class Wrong(AssertionError):
    """Something that must hold does not."""


def copy(store: Path, folder: Path) -> Path:
    """A copy to look at, because looking recovers the log and would change the original."""
    target = folder / "copy"
    shutil.rmtree(target, ignore_errors=True)
    shutil.copytree(store, target, ignore=shutil.ignore_patterns("*-shm", "lock.db*"))
    return target


def look(folder: Path) -> Found:
    """Reads a store and tests that it fits together; raises ``Wrong`` with the reason.

    A folder without a database, or with one that has no tables yet, is an empty store.
    """
    path = folder / DATABASE
    if not path.exists():
        return Found([], [], {})
    try:
        with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as connection:
            connection.execute("PRAGMA synchronous = OFF")
            (verdict,) = connection.execute("PRAGMA integrity_check").fetchone()
            if verdict != "ok":
                raise Wrong(f"damaged: {verdict}")
            if not connection.execute("SELECT 1 FROM sqlite_master").fetchone():
                return Found([], [], {})
            return _read(connection)
    except sqlite3.DatabaseError as error:
        raise Wrong(f"damaged: {error}") from error


def _read(connection: sqlite3.Connection) -> Found:
    rows = connection.execute("SELECT seq, leaf, bytes FROM entry ORDER BY seq").fetchall()
    entries = []
    for expected, (seq, leaf, data) in enumerate(rows, 1):
        if seq != expected:
            raise Wrong(f"damaged: entry {expected} is missing")
        if sha256(b"\0" + data).digest() != leaf:
            raise Wrong(f"damaged: entry {seq} does not fit its leaf hash")
        entry = json.loads(data)
        if entry["seq"] != seq:
            raise Wrong(f"damaged: entry {seq} says it is {entry['seq']}")
        entries.append(entry)
    leaves = [leaf for _, leaf, _ in rows]
    _nodes_fit(connection, leaves)
    presses = [entry["seq"] for entry in entries if entry["kind"] == "press"]
    for press in presses:
        if press >= len(entries) or entries[press]["kind"] != "decision":
            raise Wrong(f"damaged: press {press} is not followed by its decision")
    listed = connection.execute("SELECT press FROM reading ORDER BY press").fetchall()
    if [press for (press,) in listed] != presses:
        raise Wrong("damaged: the readings are not the presses of the ledger")
    keys = connection.execute("SELECT key, seq FROM idempotency").fetchall()
    if any(not 1 <= seq <= len(entries) for _, seq in keys):
        raise Wrong("damaged: an idempotency key names an entry that is not there")
    if len({seq for _, seq in keys}) != len(keys):
        raise Wrong("damaged: two idempotency keys name one entry")
    notes = connection.execute("SELECT note FROM checkpoint").fetchall()
    found = Found(entries, leaves, dict(keys))
    prefixes(found, (note for (note,) in notes))
    return found


def _nodes_fit(connection: sqlite3.Connection, leaves: list[bytes]) -> None:
    stored = connection.execute("SELECT level, idx, hash FROM node").fetchall()
    if sorted(stored) != sorted(tree.Edge().append_many(leaves)):
        raise Wrong("damaged: the stored nodes are not those of the tree")


def prefixes(found: Found, checkpoints: Iterable[str]) -> None:
    """Raises ``Wrong`` unless each checkpoint is over the first entries of what was found."""
    for note in checkpoints:
        _, size_text, root = note.split("\n")[:3]
        size = int(size_text)
        if size > found.size:
            raise Wrong(f"lost: a checkpoint over {size} entries was given out")
        if tree.root_of(found.leaves[:size]) != base64.b64decode(root):
            raise Wrong(f"damaged: the checkpoint over {size} entries is no prefix")


def holds(found: Found, seqs: Iterable[int], digits: Mapping[int, str]) -> None:
    """Raises ``Wrong`` unless every seq somebody was told of is there, with the digits sent."""
    lost = sorted(seq for seq in seqs if seq > found.size)
    if lost:
        raise Wrong(f"lost: {len(lost)} acknowledged, first {lost[0]}, of {found.size} stored")
    for seq, sent in digits.items():
        if seq <= found.size:
            body = found.entries[seq - 1]["body"]
            if body.get("digits") != sent:
                raise Wrong(f"damaged: entry {seq} was {sent} when it was acknowledged")


def refused_are_absent(found: Found, asked: Sequence[str], outcomes: Sequence[str]) -> None:
    """Raises ``Wrong`` if something is there of which the last word was *not stored*.

    ``asked`` are the keys one client sent, one after another; ``outcomes`` the answers so far.
    """
    last = dict(zip(asked, outcomes, strict=False))
    if len(outcomes) < len(asked):
        last.pop(asked[len(outcomes)], None)  # it may be on its way again
    for key, outcome in last.items():
        if outcome == "not-stored" and key in found.keys:
            raise Wrong(f"false: {key} was said not to be stored, and is entry {found.keys[key]}")


def once_only(found: Found) -> None:
    """Raises ``Wrong`` if two presses have the same digits; the client sends none twice."""
    seen: dict[str, int] = {}
    for seq, body in found.presses().items():
        first = seen.setdefault(body["digits"], seq)
        if first != seq:
            raise Wrong(f"twice: {body['digits']} is both entry {first} and entry {seq}")
