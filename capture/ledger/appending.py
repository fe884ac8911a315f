"""Entries about to be committed together: their bytes, leaf hashes and projection rows."""

from __future__ import annotations

from hashlib import sha256

import orjson

from capture.entry import Envelope, Kind, envelope
from capture.ledger.canonical import encode, encode_checked
from capture.ledger.record import CORRECTED, ZERO, record_name, standing
from capture.ledger.store import Rows, Store
from capture.reading import Stamp


class Appending:
    """One transaction in the making. Nothing of it is on disk before ``commit`` returns."""

    def __init__(self, store: Store, boot: int) -> None:
        self._bench = store.key.bench_id
        self._boot = boot
        self.first = store.size + 1
        self.last = store.size
        """Seq of the last entry in it; of the last one on disk while it is empty."""
        self._leaves: list[bytes] = []
        self._rows = Rows([], [], [], [], [], [], [], [])
        self._order = store.order.going_on()

    def __len__(self) -> int:
        return len(self._leaves)

    def _write(self, entry: Envelope, data: bytes) -> None:
        leaf = sha256(b"\x00" + data).digest()
        self.last = entry["seq"]
        self._leaves.append(leaf)
        self._rows.entries.extend((self.last, leaf, data))

    def press(self, body: Envelope, stamp: Stamp, operator: str | None) -> Envelope:
        """A press whose body is known to hold what entries may hold."""
        seq = self.last + 1
        entry = envelope(self._bench, self._boot, seq, Kind.PRESS, stamp, operator, body)
        self._write(entry, encode(entry))
        return entry

    def decision(self, body: Envelope, press: Envelope) -> Envelope:
        """The service's decision on the press just written: made at its moment, for its
        operator."""
        seq = self.last + 1
        entry = {**press, "seq": seq, "kind": Kind.DECISION._value_, "body": body}
        self._write(entry, encode(entry))
        at, operator = press["at"], press["operator"]
        self._order.add(press["seq"], at, operator)
        self._rows.readings.extend(
            (
                press["seq"], seq, press["body"]["instrument"], at, body["build"], None,
                operator, standing(body), None,
            )
        )  # fmt: skip
        if "zero" in body:
            self._rows.records.extend((seq, ZERO, press["body"]["instrument"]))
        return entry

    def record(self, kind: Kind, body: Envelope, stamp: Stamp, operator: str | None) -> Envelope:
        """Any entry that is not a press or the service's own decision."""
        entry = envelope(self._bench, self._boot, self.last + 1, kind, stamp, operator, body)
        self._write(entry, encode_checked(entry))
        self._rows.records.extend((self.last, entry["kind"], record_name(entry)))
        return entry

    def redecided(
        self, press: Envelope, decision: Envelope, build: str | None, moved_from: str | None
    ) -> None:
        """The reading's row now that another decision counts for it."""
        body = decision["body"]
        self._rows.redecided.extend(
            (
                press["seq"], decision["seq"], press["body"]["instrument"], press["at"], build,
                moved_from, press["operator"], standing(body),
                CORRECTED if body.get("corrected") else None,
            )
        )  # fmt: skip

    def key(self, key: str, seq: int, request: str) -> None:
        """An idempotency key and the entry that answers it."""
        self._rows.keys.extend((key, seq, request))

    def blob(self, digest: str, data: bytes) -> None:
        """A trace that a press of this transaction cites by its digest."""
        self._rows.blobs.extend((digest, data))

    def bytes_of(self, seq: int) -> bytes:
        """The bytes of an entry in it."""
        data = self._rows.entries[3 * (seq - self.first) + 2]
        assert isinstance(data, bytes)
        return data

    def entry(self, seq: int) -> Envelope | None:
        """An entry in it, parsed."""
        if not self.first <= seq <= self.last:
            return None
        found: Envelope = orjson.loads(self.bytes_of(seq))
        return found

    def commit(self, store: Store) -> tuple[int, int]:
        """Writes it all; gives the first and last seq. Raises OutcomeUnknown."""
        order = self._order
        self._rows.clock_back.extend(press for (press,) in order.clock_back)
        self._rows.shifts.extend(value for row in order.shifts for value in row)
        store.commit(self._leaves, self._rows)
        store.order = order
        return self.first, self.last
