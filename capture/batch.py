"""One transaction in the making: items decided in order, entries and projections collected.

Everything is decided on the folded state as it will be once the batch is on disk; what the world
is told (``events``, the requests' answers) waits in the batch until the commit has returned.
"""

from __future__ import annotations

import logging
from hashlib import sha256
from typing import TYPE_CHECKING, Any

from capture import act, resource
from capture.archive import Archive
from capture.command import RecordPull, TypeBracket, TypeReading
from capture.decide import by_rule, faulted
from capture.desk import Desk
from capture.draft import Known
from capture.drift import all_marked
from capture.entry import Envelope, Kind
from capture.errors import CaptureError, Conflict
from capture.ledger.appending import Appending
from capture.ledger.canonical import encode, encode_checked
from capture.ledger.store import Store
from capture.reading import Reading, Stamp, Undecodable
from capture.request import Outcome, Request
from capture.stream import Event
from capture.typed import ByHand, press_body

if TYPE_CHECKING:
    from capture.streamed import Analysed

BY_HAND = (TypeReading, TypeBracket, RecordPull)

_log = logging.getLogger(__name__)


class Batch:
    """Entries about to be committed together."""

    def __init__(self, desk: Desk, store: Store, archive: Archive, listening: bool) -> None:
        self._desk = desk
        self._archive = archive
        self._listening = listening
        self._appending = Appending(store, desk.boot)
        self._answers: list[tuple[Request, Outcome | Exception]] = []
        self._decided: dict[int, Envelope] = {}
        self._builds: dict[int, str | None] = {}
        self._keys: dict[str, tuple[int, str]] = {}
        self._last: tuple[Envelope, Envelope] | None = None
        self.events: list[Event] = []

    @property
    def size(self) -> int:
        """Entries in it."""
        return len(self._appending)

    @property
    def last(self) -> int:
        """Seq of its last entry."""
        return self._appending.last

    # what goes in -----------------------------------------------------------------------------

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

    def pull(self, made: Analysed, *, late: str | None = None) -> None:
        """A device's pull: its trace, its press and the decision on it."""
        from capture.streamed import device_body

        self.settle()  # what it is follows from the step that waits now
        body, command = device_body(self._desk, made, late)
        self._appending.blob(command.digest, command.blob)
        self._decide(body, made.pull.stamp, self._desk.operator)

    def _decide(self, body: dict[str, Any], stamp: Stamp, operator: str | None) -> int:
        self.settle()
        desk = self._desk
        press = self._appending.press(body, stamp, operator)
        seq: int = press["seq"]
        try:
            decided = by_rule(desk, seq, body, desk.boot, stamp.at, stamp.mono)
        except Exception:  # noqa: BLE001 # a fault of ours must not cost the reading; it is logged
            _log.exception("press %d could not be decided", seq)
            decided = faulted(desk, seq, body)
        self._last = (press, self._appending.decision(decided, press))
        zero = decided.get("zero")
        if zero is not None and zero["presses"]:
            self.settle()
            for marked, again in all_marked(desk, self, seq, zero):
                self._decision(again, marked, stamp, operator, {})
        return seq

    def settle(self) -> None:
        """Folds in, and makes the event of, the press decided last. It waits for that until the
        next item or the end, so that a lone press is on disk first."""
        if self._last is not None:
            press, decision = self._last
            self._last = None
            self._desk.apply(press)
            self._desk.apply(decision)
            if self._listening:
                self._tell(press, decision)

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
        self._record(Kind.UNDECODABLE, body, item.stamp, self._desk.operator)

    def _record(
        self, kind: Kind, body: dict[str, Any], stamp: Stamp, operator: str | None
    ) -> Envelope:
        self.settle()
        entry = self._appending.record(kind, body, stamp, operator)
        self._desk.apply(entry)
        if self._listening and kind is not Kind.DECISION:
            data = self._appending.bytes_of(entry["seq"])
            self.events.append(Event(entry["seq"], "entry", data))
        return entry

    # commands ---------------------------------------------------------------------------------

    def request(self, request: Request) -> None:
        """A person's command; whatever is wrong with it becomes its answer."""
        self.settle()
        try:
            answer: Outcome | Exception = self._carry_out(request)
        except CaptureError as error:
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
            self._appending.key(request.key, outcome.seq, digest)
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
        if isinstance(command, BY_HAND):
            seq = self._by_hand(command, stamp, operator, key)
            return Outcome(seq, True, self._body(seq))
        made = act.act(self._desk, self, command, stamp)
        if isinstance(made, Known):
            return Outcome(made.seq, False, self._body(made.seq))
        if made.press is not None:
            return self._decision(made.body, made.press, stamp, operator, key)
        entry = self._record(made.kind, {**made.body, **key}, stamp, operator)
        return Outcome(entry["seq"], True, self._body(entry["seq"]))

    def _by_hand(
        self, command: ByHand, stamp: Stamp, operator: str | None, key: dict[str, Any]
    ) -> int:
        body = {**press_body(self._desk, command), **key}
        encode_checked(body)
        if isinstance(command, RecordPull):
            self._appending.blob(command.digest, command.blob)
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
        entry = self._record(Kind.DECISION, body, stamp, operator)
        self._decided[seq] = entry
        build = made["build"] or self._builds.get(seq) or self._archive.build_of(seq) or first
        self._builds[seq] = build
        moved_from = first if first != build else None
        self._appending.redecided(press, entry, build, moved_from)
        if self._listening:
            self._tell(press, entry)
        return Outcome(seq, True, resource.reading(press, entry))

    # looking up what is on disk, or in this batch ---------------------------------------------

    def entry(self, seq: int) -> Envelope | None:
        """An entry by seq, of this batch too."""
        return self._appending.entry(seq) or self._archive.envelope(seq)

    def decision(self, press: int) -> Envelope | None:
        """The newest decision on a press."""
        if press in self._decided:
            return self._decided[press]
        return self._appending.entry(press + 1) or self._archive.decision(press)

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
        return self._appending.commit(store)

    def resolve(self) -> None:
        """Answers the requests, once everything is on disk."""
        for request, answer in self._answers:
            request.answer(answer)
        self._answers.clear()

    def fail(self, error: Exception) -> None:
        """Answers every request that this batch did not make it to disk."""
        for request, _ in self._answers:
            request.answer(error)
        self._answers.clear()
