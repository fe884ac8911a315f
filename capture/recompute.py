"""Everything computed from a ledger, computed again: entry by entry, from the first.

Each press is decided again by the whole table of rules, each command that a person gave is carried
out again on the state before it, and both must give the body that stands in the ledger.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from typing import Any

from capture.act import act
from capture.decide import FAULT, by_table
from capture.desk import Desk
from capture.draft import Known
from capture.drift import marked
from capture.entry import RULES_VERSION, Envelope, Kind
from capture.errors import CaptureError
from capture.ledger import keys, note
from capture.reading import Stamp
from capture.redo import ADDED, command_of
from capture.streamed import wants_turning
from capture.zero import drift_of

Find = Callable[[int | None, str, str], None]
"""Takes (seq, code, message) of what is wrong."""
Fetch = Callable[[int], Envelope | None]
"""Gives an entry of the ledger by seq."""

ENVELOPE_KEYS = {"v", "bench", "boot", "seq", "kind", "at", "mono", "operator", "body"}


class Recomputation:
    """Takes entries in order of seq; tells ``find`` what comes out otherwise."""

    def __init__(self, find: Find, fetch: Fetch) -> None:
        self._find = find
        self._fetch = fetch
        self._desk = Desk()
        self._press: Envelope | None = None
        self._marks: deque[int] = deque()
        """Presses that a drifted zero must mark next, in order."""
        self._drift: dict[str, Any] = {}
        self._before: Envelope | None = None
        self._newest: dict[int, int] = {}
        """Press → seq of the decision that counts, where a person decided on it."""
        self._rules = RULES_VERSION
        """Those of the start that an entry was written under."""
        self.counts: dict[str, int] = {}

    def add(self, entry: Envelope) -> None:
        """The next entry. Raises what folding an entry that makes no sense raises."""
        kind = entry["kind"]
        self._count(kind)
        if kind == Kind.BOOT:
            self._rules = entry["body"].get("rules", RULES_VERSION)
        self._envelope(entry)
        self._before = entry
        if self._marks and not (kind == Kind.DECISION and entry["body"]["by"] == "zero"):
            self._all_marked(entry["seq"])
        if self._press is not None:
            press, self._press = self._press, None
            self._decision(press, entry)
            self._desk.apply(press)
        elif kind == Kind.DECISION and entry["body"]["by"] == "zero":
            self._marked(entry)
        elif kind == Kind.DECISION and entry["body"]["by"] == "rule":
            self._find(entry["seq"], "decision", f"Decision {entry['seq']} follows no press.")
        else:
            self._command(entry)
        if kind == Kind.PRESS:
            self._press = entry
            return
        self._desk.apply(entry)
        if kind == Kind.DECISION:
            self._note(entry["seq"], entry["body"])

    def _note(self, seq: int, body: dict[str, Any]) -> None:
        if body["by"] != "rule":
            self._newest[body["press"]] = seq
        elif body.get("zero") and body["zero"]["presses"]:
            self._marks = deque(body["zero"]["presses"])
            self._drift = drift_of(body["press"], body["zero"])

    def _marked(self, entry: Envelope) -> None:
        """A reading decided again because its gauge's zero had drifted."""
        seq, body = entry["seq"], entry["body"]
        while self._marks:
            made = marked(self._desk, self, self._marks.popleft(), self._drift)
            if made is not None:
                plain = {name: value for name, value in body.items() if name not in ADDED}
                self._compare(seq, made[1], plain)
                return
        self._find(seq, "decision", f"Decision {seq} marks a reading of no drifted set.")

    def _all_marked(self, seq: int) -> None:
        """The readings of a drifted set that are left must be of those that no longer count."""
        while self._marks:
            press = self._marks.popleft()
            if marked(self._desk, self, press, self._drift) is not None:
                self._find(seq, "decision", f"Reading {press} of a drifted set was not marked.")

    def _count(self, name: str) -> None:
        self.counts[name] = self.counts.get(name, 0) + 1

    def _envelope(self, entry: Envelope) -> None:
        seq, before = entry["seq"], self._before
        if set(entry) != ENVELOPE_KEYS or entry["v"] != 1:
            self._find(seq, "envelope", f"Entry {seq} has not the envelope of an entry.")
        if before is None:
            if entry["kind"] != Kind.BOOT:
                self._find(seq, "envelope", "The first entry does not record a start.")
            else:
                public = note.Verifier.parse(entry["body"]["key"]).public_key
                if keys.bench_id(public) != entry["bench"]:
                    self._find(seq, "envelope", "The bench's id does not fit its public key.")
            return
        if entry["bench"] != before["bench"]:
            self._find(seq, "envelope", f"Entry {seq} is of another bench.")
        step = 1 if entry["kind"] == Kind.BOOT else 0
        if entry["boot"] != before["boot"] + step:
            self._find(seq, "envelope", f"Entry {seq} has start number {entry['boot']}.")

    def _decision(self, press: Envelope, decision: Envelope) -> None:
        """The service's own decision on a press, made again on the state before the press."""
        seq, body = press["seq"], decision["body"]
        if decision["kind"] != Kind.DECISION or body["press"] != seq or body["by"] != "rule":
            self._find(seq, "decision", f"Press {seq} is not followed by the decision on it.")
        elif body["rules"] != RULES_VERSION:
            self._count("decisions_of_other_rules")
        elif body["reason"] is not None and body["reason"]["code"] == FAULT:
            self._count("faults")
        else:
            mono = int(press["mono"])
            self._kind_of_trace(press)
            made = by_table(self._desk, seq, press["body"], press["boot"], press["at"], mono)
            self._compare(decision["seq"], made, body)

    def _kind_of_trace(self, press: Envelope) -> None:
        """What a device streamed is looked at as the step that waited asked."""
        trace = press["body"].get("trace")
        if trace is not None and "interval_us" in trace:
            turning = trace["found"]["kind"] == "turning"
            if turning is not wants_turning(self._desk):
                message = f"The trace of reading {press['seq']} was not read as its step asked."
                self._find(press["seq"], "decision", message)

    def _command(self, entry: Envelope) -> None:
        """What a person asked for, carried out again on the state before it."""
        body = entry["body"]
        if body.get("rules", self._rules) != RULES_VERSION:
            self._count("decisions_of_other_rules")
            return
        command = command_of(entry)
        if command is None:
            return
        seq = entry["seq"]
        stamp = Stamp(entry["at"], int(entry["mono"]))
        try:
            made = act(self._desk, self, command, stamp)
        except CaptureError as error:
            self._find(seq, "command", f"Entry {seq} could not have been recorded: {error}")
            return
        if isinstance(made, Known):
            self._find(seq, "command", f"Entry {seq} says what entry {made.seq} said already.")
        else:
            plain = {name: value for name, value in body.items() if name not in ADDED}
            self._compare(seq, made.body, plain)

    def _compare(self, seq: int, made: dict[str, Any], stored: dict[str, Any]) -> None:
        if made != stored:
            names = [name for name in {**made, **stored} if made.get(name) != stored.get(name)]
            first = names[0]
            self._find(
                seq,
                "decision",
                f"Entry {seq} comes out otherwise: {', '.join(names)} (made again: "
                f"{made.get(first)}, stored: {stored.get(first)}).",
            )

    # what commands look up --------------------------------------------------------------------

    def entry(self, seq: int) -> Envelope | None:
        """An entry before the one being carried out again."""
        return self._fetch(seq)

    def decision(self, press: int) -> Envelope | None:
        """The decision that counted for a press until then."""
        return self._fetch(self._newest.get(press, press + 1))
