"""Recording at each start what the bench is, where it is not on record as it now is."""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from capture.archive import Archive
from capture.entry import RULES_VERSION, Envelope, Kind
from capture.instrument import Instrument
from capture.ledger.appending import Appending
from capture.ledger.store import Store
from capture.reading import Stamp


@dataclass(frozen=True, slots=True)
class Bench:
    """What a bench is at this start."""

    title: str
    instruments: Sequence[Instrument]
    profiles: Mapping[str, str]
    """Profile name → its text."""
    version: str
    """Of this program."""


def open_bench(store: Store, archive: Archive, bench: Bench, stamp: Stamp) -> int:
    """Records this start, and what has changed since the last one; gives the start's number.

    Raises OutcomeUnknown.
    """
    boots = archive.newest(Kind.BOOT)
    boot = boots[-1]["boot"] + 1 if boots else 1
    writing = Appending(store, boot)
    body = {
        "version": bench.version,
        "rules": RULES_VERSION,
        "key": store.key.verifier.text,
        "python": platform.python_version(),
    }
    writing.record(Kind.BOOT, body, stamp, None)
    titles = archive.newest(Kind.BENCH)
    if bench.title and (not titles or titles[-1]["body"]["title"] != bench.title):
        writing.record(Kind.BENCH, {"title": bench.title}, stamp, None)
    profiles = _profiles(writing, archive, bench, stamp)
    known = {entry["body"]["id"]: entry["body"] for entry in archive.newest(Kind.INSTRUMENT)}
    for instrument in bench.instruments:
        record: dict[str, Any] = instrument.to_body()
        record["profile_seq"] = profiles.get(instrument.profile)
        if known.get(instrument.id) != record:
            writing.record(Kind.INSTRUMENT, record, stamp, None)
    writing.commit(store)
    return boot


def _profiles(writing: Appending, archive: Archive, bench: Bench, stamp: Stamp) -> dict[str, int]:
    """The seq of each profile's record, recorded where it is new or changed."""
    known: dict[str, Envelope] = {
        entry["body"]["name"]: entry for entry in archive.newest(Kind.PROFILE)
    }
    found: dict[str, int] = {}
    for name, text in bench.profiles.items():
        digest = hashlib.sha256(text.encode()).hexdigest()
        entry = known.get(name)
        if entry is None or entry["body"]["hash"] != digest:
            body = {"name": name, "hash": digest, "text": text}
            entry = writing.record(Kind.PROFILE, body, stamp, None)
        found[name] = entry["seq"]
    return found
