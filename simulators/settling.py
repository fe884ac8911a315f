"""Settling what holds the work: rework, a better fit, a set measured again, or a concession."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from simulators.handiwork import Handiwork
from simulators.plan import Remedy
from simulators.press import BuilderStuck, Press

Json = dict[str, Any]

TRIES = 4
"""How often one subject may be settled before the builder gives up."""
UNSETTLED = ("nonconforming", "undecided")


class Settling:
    """Does what the scenario's remedies say about a result that holds the work."""

    def __init__(self, press: Press, hand: Handiwork, remedies: Sequence[Remedy]) -> None:
        self._press = press
        self._hand = hand
        self._remedies = remedies
        self._tries: Counter[str] = Counter()

    def settle(self, build: str, *, at_end: bool) -> bool:
        """Settles one result that holds the work; False if none can be now.

        ``at_end``: nothing else can be done, so nothing is waited for any more.
        """
        state = self._press.client.get(f"/v1/builds/{build}")
        self._hand.truth.fit(state["pieces"])
        holds = [
            (self._remedy(str(hold["subject"]), str(hold["result"])), hold)
            for hold in state["holds"]
            if hold.get("result") in UNSETTLED
        ]
        # A set that is measured again settles everything that came of it.
        for remedy, hold in sorted(holds, key=lambda each: not each[0].remeasure):
            if at_end or not self._waits(remedy, state):
                self._count_try(str(hold["subject"]))
                self._apply(remedy, build, str(hold["subject"]), str(hold["result"]))
                return True
        return False

    def _count_try(self, subject: str) -> None:
        self._tries[subject] += 1
        if self._tries[subject] > TRIES:
            raise BuilderStuck(f"{subject} was settled {TRIES} times and still holds the work.")

    def _remedy(self, subject: str, result: str) -> Remedy:
        about, number = _subject(subject)
        for each in self._remedies:
            if each.about == about and each.number in (None, number):
                return each
        return Remedy(about, f"Looked at again and accepted although {result}; simulated.")

    def _waits(self, remedy: Remedy, state: Mapping[str, Any]) -> bool:
        """Whether something must be done first that can still be done."""
        done = {one["id"] for one in state.get("operations", ()) if one["done"] == one["total"]}
        return not done.issuperset(remedy.once)

    def _apply(self, remedy: Remedy, build: str, subject: str, result: str) -> None:
        if remedy.fit:
            self._fit(remedy, build, subject, result)
        elif remedy.remeasure:
            self._remeasure(remedy, build, subject, result)
        elif remedy.rework is not None:
            self._rework(remedy, remedy.rework, build, subject, result)
        else:
            self._concede(remedy.reason, build, subject, result)

    def _fit(self, remedy: Remedy, build: str, subject: str, result: str) -> None:
        """Puts the pieces where the service proposes; accepts the result where it has nothing."""
        path = f"/v1/builds/{build}/fits/{remedy.about}"
        proposal = self._press.client.get(path)
        order = proposal["order"]
        if not proposal["changes"]:
            self._concede(remedy.reason, build, subject, result)
            return
        self._press.client.post(path, {"order": order})
        self._press.tally.fits += 1
        self._hand.truth.fit(self._press.client.get(f"/v1/builds/{build}")["pieces"])
        self._press.report({"event": "fit", "about": remedy.about, "order": order})

    def _remeasure(self, remedy: Remedy, build: str, subject: str, result: str) -> None:
        """The gauge was knocked: it is set again, and so is everything since its zero held."""
        body = {"step": subject, "reason": remedy.reason}
        self._press.client.post(f"/v1/builds/{build}/sets", body)
        for zero in self._hand.scenario.zeros:
            if zero.operation == remedy.about:
                self._hand.unset(zero.instrument)
        self._press.tally.remeasured += 1
        self._press.report({"event": "remeasure", "result": result, **body})
        self._press.caught("knocked-gauge", "closing zero check", subject)

    def _rework(self, remedy: Remedy, part: str, build: str, subject: str, result: str) -> None:
        _, number = _subject(subject)
        if remedy.machines is not None:
            piece = self._hand.truth.piece(part, number)
            self._hand.workshop.machine(remedy.machines, piece, remedy.change)
        body = {"part": part, "number": number, "reason": remedy.reason}
        self._press.client.post(f"/v1/builds/{build}/reworks", body)
        self._press.tally.reworks += 1
        self._press.report({"event": "rework", "result": result, **body})

    def _concede(self, reason: str, build: str, subject: str, result: str) -> None:
        body = {"subject": subject, "reason": reason}
        self._press.client.post(f"/v1/builds/{build}/concessions", body)
        self._press.tally.concessions += 1
        self._press.report({"event": "concession", "result": result, **body})


def _subject(subject: str) -> tuple[str, int]:
    """Id of the operation or derived quantity, and the number."""
    words = subject.split("/")
    number = words[1] if len(words) > 1 else "1"
    return words[0], int(number) if number.isdigit() else 1
