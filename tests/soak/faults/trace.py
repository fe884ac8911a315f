"""Reading what ``shim.c`` recorded."""

from __future__ import annotations

import struct
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

_HEAD = struct.Struct("<cQqIH")


class Record(NamedTuple):
    """One thing the program did; the letters of ``op`` are explained in ``shim.c``."""

    op: str
    inode: int
    offset: int
    name: str
    data: bytes


Trace = list[Record]


def read(path: Path) -> Trace:
    """All whole records of a trace; a record cut off by a kill is left out."""
    log = path.read_bytes()
    records: Trace = []
    at = 0
    while at + _HEAD.size <= len(log):
        op, inode, offset, length, name_length = _HEAD.unpack_from(log, at)
        start = at + _HEAD.size + name_length
        if start + length > len(log):
            break
        name = log[at + _HEAD.size : start].decode()
        records.append(Record(op.decode(), inode, offset, name, log[start : start + length]))
        at = start + length
    return records


def without_syncs(trace: Trace) -> Trace:
    """As if no sync were ever asked for: what ``synchronous=OFF`` does."""
    return [record for record in trace if record.op not in "BSF"]


def without_syncs_of(trace: Trace, suffix: str) -> Trace:
    """As if files with this suffix were never synced: ``-wal`` is what ``NORMAL`` does
    between two checkpoints."""
    inodes = {r.inode for r in trace if r.op == "O" and r.name.endswith(suffix)}
    return [r for r in trace if r.op not in "BSF" or r.inode not in inodes]


def answered_early(trace: Trace) -> Trace:
    """As if each answer had left before the last sync that came before it."""
    early: Trace = []
    for record in trace:
        if record.op in "NA":
            at = _last_sync(early)
            early.insert(at, record)
        else:
            early.append(record)
    return early


def _last_sync(records: Trace) -> int:
    at = len(records)
    while at and records[at - 1].op not in "B":
        at -= 1
    return max(at - 1, 0)


def spoilt(trace: Trace, fault: str) -> Trace:
    """A recording as one of three known faults would have made it."""
    if fault == "no syncs":
        return without_syncs(trace)
    if fault == "no log syncs":
        return without_syncs_of(trace, "-wal")
    assert fault == "early answers"
    return answered_early(trace)


def count(trace: Iterable[Record], op: str) -> int:
    """How many records are of this kind."""
    return sum(record.op == op for record in trace)
