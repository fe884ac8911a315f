"""Opening a bench: fold what the ledger says, then record what is new since."""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from capture.archive import Archive
from capture.decide import RULES_VERSION
from capture.desk import Desk
from capture.entry import Kind
from capture.instrument import Instrument
from capture.reading import Stamp

if TYPE_CHECKING:
    from capture.batch import Batch


def restore(desk: Desk, archive: Archive) -> None:
    """Folds the ledger into an empty desk: everything but the presses and their decisions, which
    are folded build by build when a build is first asked for. So starting costs the same on the
    first day and after ten million readings."""
    for entry in archive.records():
        desk.apply(entry)


@dataclass(frozen=True, slots=True)
class Bench:
    """What a bench is at this start."""

    title: str
    instruments: Sequence[Instrument]
    profiles: Mapping[str, str]
    """Profile name → its text."""
    version: str
    """Of this program."""


def open_bench(batch: Batch, desk: Desk, bench: Bench, verifier: str, stamp: Stamp) -> None:
    """Records this start, and whatever of the bench is not on record as it now is."""
    desk.boot += 1
    boot = {
        "version": bench.version,
        "rules": RULES_VERSION,
        "key": verifier,
        "python": platform.python_version(),
    }
    batch.record(Kind.BOOT, boot, stamp, None)
    if bench.title and bench.title != desk.bench_title:
        batch.record(Kind.BENCH, {"title": bench.title}, stamp, None)
    for name, text in bench.profiles.items():
        digest = hashlib.sha256(text.encode()).hexdigest()
        known = desk.profiles.get(name)
        if known is None or known.hash != digest:
            body = {"name": name, "hash": digest, "text": text}
            batch.record(Kind.PROFILE, body, stamp, None)
    for instrument in bench.instruments:
        profile = desk.profiles.get(instrument.profile)
        profile_seq = None if profile is None else profile.seq
        record = desk.instruments.get(instrument.id)
        if record is None or record.instrument != instrument or record.profile != profile_seq:
            record_body: dict[str, Any] = {**instrument.to_body(), "profile_seq": profile_seq}
            batch.record(Kind.INSTRUMENT, record_body, stamp, None)
