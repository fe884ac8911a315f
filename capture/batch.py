"""One transaction in the making: items decided in order, entries and projections collected.

Everything is decided on the folded state as it will be once the batch is on disk; what the world
is told (``events``, the requests' answers) waits in the batch until the commit has returned.
"""

from __future__ import annotations

import logging
from concurrent.futures import Future
from hashlib import sha256
from typing import Any, NamedTuple

import orjson

from capture import act, resource
from capture.archive import Archive
from capture.command import Command, TypeReading
from capture.decide import by_rule, faulted
from capture.desk import Desk
from capture.entry import Envelope, Kind, envelope
from capture.errors import CaptureError, Conflict, NotFound
from capture.ledger.canonical import encode, encode_checked
from capture.ledger.record import record_name
from capture.ledger.store import Rows, Store
from capture.quantity import unit_name
from capture.reading import Reading, Stamp, Undecodable
from capture.stream import Event

_log = logging.getLogger(__name__)


class Outcome(NamedTuple):
    """What a command came to."""

    seq: int
    """The seq of the entry that answers it (of the press, for a typed reading)."""
    created: bool
    """False where the same key, or the same content, was recorded before."""
    body: dict[str, Any]
    """The reading for commands on readings, else the entry's body with ``seq`` and ``at``."""


class Request(NamedTuple):
    """A command on its way."""

    command: Command
    operator: str | None
    key: str | None
    stamp: Stamp
    future: Future[Outcome]


def fail(request: Request, error: Exception) -> None:
    """Tells who asked that it failed."""
    if not request.future.done():
        request.future.set_exception(error)


class Batch:
    """Entries about to be committed together."""

    def __init__(self, desk: Desk, store: Store, archive: Archive, listening: bool) -> None:
        self._desk = desk
        self._archive = archive
        self._listening = listening
        self._bench = store.key.bench_id
        self._first = store.size + 1
        self.last = store.size
        self._leaves: list[bytes] = []
        self._rows = Rows([], [], [], [])
        self._answers: list[tuple[Request, Outcome | Exception]] = []
        self._decided: dict[int, Envelope] = {}
        self._builds: dict[int, str | None] = {}
        self._keys: dict[str, tuple[int, str]] = {}
        self.events: list[Event] = []

    @property
    def size(self) -> int:
        """Entries in it."""
        return len(self._leaves)

    # what goes in -----------------------------------------------------------------------------

    def _write(self, entry: Envelope, data: bytes) -> None:
        leaf = sha256(b"\x00" + data).digest()
        self.last = entry["seq"]
        self._leaves.append(leaf)
        self._rows.entries.extend((self.last, leaf, data))

    def press(self, reading: Reading, *, late: str | None = None) -> None:
        """A device's reading: its press and the decision on it."""
        record = self._desk.instruments.get(reading.instrument)
        body = {
            "instrument": reading.instrument,
            "record": None if record is None else record.seq,
            "raw": reading.raw.hex(),
            "digits": reading.digits,
            "unit": reading.unit,
            "flags": list(reading.flags),
            "simulated": record is not None and record.instrument.simulated,
            "typed": False,
            "late": late,
        }
        self._decide(body, reading.stamp, self._desk.operator)

    def _decide(self, body: dict[str, Any], stamp: Stamp, operator: str | None) -> int:
        desk = self._desk
        seq = self.last + 1
        boot = desk.boot
        press = envelope(self._bench, boot, seq, Kind.PRESS, stamp, operator, body)
        try:
            decided = by_rule(desk, seq, body, boot, stamp.at, stamp.mono)
        except Exception:  # noqa: BLE001 # a fault of ours must not cost the reading; it is logged
            _log.exception("press %d could not be decided", seq)
            decided = faulted(desk, seq, body)
        decision = envelope(self._bench, boot, seq + 1, Kind.DECISION, stamp, operator, decided)
        self._write(press, encode(press))
        self._write(decision, encode(decision))
        desk.apply(press)
        desk.apply(decision)
        self._rows.readings.extend(
            (seq, seq + 1, body["instrument"], stamp.at, decided["build"], None)
        )
        if self._listening:
            self._tell(press, decision)
        return seq

    def _tell(self, press: Envelope, decision: Envelope) -> None:
        data = encode(resource.reading(press, decision))
        self.events.append(Event(decision["seq"], "reading", data))

    def undecodable(self, item: Undecodable, *, late: str | None = None) -> None:
        """Bytes that make no reading."""
        body = {
            "port": item.port,
            "instrument": item.instrument,
            "raw": item.raw.hex(),
            "code": item.code,
            "detail": item.detail,
            "late": late,
        }
        self.record(Kind.UNDECODABLE, body, item.stamp, self._desk.operator)

    def record(
        self,
        kind: Kind,
        body: dict[str, Any],
        stamp: Stamp,
        operator: str | None,
    ) -> Envelope:
        """Any entry that is not a press or the service's own decision."""
        entry = envelope(self._bench, self._desk.boot, self.last + 1, kind, stamp, operator, body)
        data = encode_checked(entry)
        self._write(entry, data)
        self._desk.apply(entry)
        self._rows.records.extend((entry["seq"], kind.value, record_name(entry)))
        if self._listening and kind is not Kind.DECISION:
            self.events.append(Event(entry["seq"], "entry", data))
        return entry

    # commands ---------------------------------------------------------------------------------

    def request(self, request: Request) -> None:
        """A person's command; whatever is wrong with it becomes its answer."""
        try:
            answer: Outcome | Exception = self._carry_out(request)
        except CaptureError as error:
            answer = error
        except Exception as error:  # noqa: BLE001 # the asker gets it; the writer goes on
            answer = error
        self._answers.append((request, answer))

    def _carry_out(self, request: Request) -> Outcome:
        digest = sha256(repr(request.command).encode()).hexdigest()
        if request.key is None:
            return self._do(request, {})
        seen = self._keys.get(request.key) or self._archive.key(request.key)
        if seen is not None:
            return self._again(request.key, seen, digest)
        named = {"key": request.key, "request": digest}
        outcome = self._do(request, {"idempotency": named})
        if outcome.created:
            self._keys[request.key] = (outcome.seq, digest)
            self._rows.keys.extend((request.key, outcome.seq, digest))
        return outcome

    def _again(self, key: str, seen: tuple[int, str], digest: str) -> Outcome:
        seq, before = seen
        if before != digest:
            raise Conflict(
                f"The key {key} was used before for something else (entry {seq}).",
                mend="Use a new Idempotency-Key for a new request.",
            )
        return Outcome(seq, False, self._body(seq))

    def _do(self, request: Request, key: dict[str, Any]) -> Outcome:
        operator = request.operator or self._desk.operator
        command, stamp = request.command, request.stamp
        if isinstance(command, TypeReading):
            seq = self._typed(command, stamp, operator, key)
            return Outcome(seq, True, self._body(seq))
        made = act.act(self._desk, self, command, stamp)
        if isinstance(made, act.Known):
            return Outcome(made.seq, False, self._body(made.seq))
        if made.press is not None:
            return self._decision(made.body, made.press, stamp, operator, key)
        entry = self.record(made.kind, {**made.body, **key}, stamp, operator)
        return Outcome(entry["seq"], True, self._body(entry["seq"]))

    def _typed(
        self, command: TypeReading, stamp: Stamp, operator: str | None, key: dict[str, Any]
    ) -> int:
        record = self._desk.instruments.get(command.instrument)
        if record is None:
            raise NotFound(
                f"This bench has no instrument {command.instrument}.",
                mend=f"It has: {', '.join(self._desk.instruments) or 'none'}.",
            )
        body = {
            "instrument": command.instrument,
            "record": record.seq,
            "raw": "",
            "digits": act.digits_of(command.digits),
            "unit": unit_name(command.unit),
            "flags": [],
            "simulated": record.instrument.simulated,
            "typed": True,
            "late": None,
            **key,
        }
        encode_checked(body)
        return self._decide(body, stamp, operator)

    def _decision(
        self,
        made: dict[str, Any],
        press: Envelope,
        stamp: Stamp,
        operator: str | None,
        key: dict[str, Any],
    ) -> Outcome:
        seq = press["seq"]
        before, rule = self.decision(seq), self.entry(seq + 1)
        assert before is not None  # every press has had its rule decision in the same commit
        assert rule is not None
        first = rule["body"]["build"]
        body = {**made, "supersedes": before["seq"], "first_build": first, **key}
        entry = self.record(Kind.DECISION, body, stamp, operator)
        self._decided[seq] = entry
        build = made["build"] or self._builds.get(seq) or self._archive.build_of(seq)
        self._builds[seq] = build
        moved_from = first if first != build else None
        name = press["body"]["instrument"]
        self._rows.readings.extend((seq, entry["seq"], name, press["at"], build, moved_from))
        if self._listening:
            self._tell(press, entry)
        return Outcome(seq, True, resource.reading(press, entry))

    # looking up what is on disk, or in this batch ---------------------------------------------

    def entry(self, seq: int) -> Envelope | None:
        """An entry by seq, of this batch too."""
        return self._archive.envelope(seq) if seq < self._first else self._in_batch(seq)

    def _in_batch(self, seq: int) -> Envelope | None:
        if not self._first <= seq <= self.last:
            return None
        data = self._rows.entries[3 * (seq - self._first) + 2]
        assert isinstance(data, bytes)
        found: Envelope = orjson.loads(data)
        return found

    def decision(self, press: int) -> Envelope | None:
        """The newest decision on a press."""
        if press in self._decided:
            return self._decided[press]
        if press >= self._first:
            return self._in_batch(press + 1)
        return self._archive.decision(press)

    def _body(self, seq: int) -> dict[str, Any]:
        entry = self.entry(seq)
        assert entry is not None
        if entry["kind"] == Kind.PRESS:
            decision = self.decision(seq)
            assert decision is not None
            return resource.reading(entry, decision)
        return {**entry["body"], "seq": seq, "at": entry["at"], "operator": entry["operator"]}

    # the end ----------------------------------------------------------------------------------

    def commit(self, store: Store) -> tuple[int, int]:
        """Writes it all; gives the first and last seq. Raises OutcomeUnknown."""
        store.commit(self._leaves, self._rows)
        return self._first, self.last

    def resolve(self) -> None:
        """Answers the requests, once everything is on disk."""
        for request, answer in self._answers:
            if isinstance(answer, Outcome):
                request.future.set_result(answer)
            else:
                request.future.set_exception(answer)
        self._answers.clear()

    def fail(self, error: Exception) -> None:
        """Answers every request that this batch did not make it to disk."""
        for request, _ in self._answers:
            fail(request, error)
        self._answers.clear()
