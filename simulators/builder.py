"""The robot builder: builds one engine the way a person at the bench would, by HTTP and SEND.

It knows the service only by its API. It posts the spec, opens a build, and then does what the
service asks for next: sets a comparative gauge on its standard, presses SEND on the right gauge,
confirms what only a person can, and settles what holds the work. It makes the mistakes its
scenario plans, and mends each as a person would: by a new entry, never by taking one back.
"""

from __future__ import annotations

import threading
import tomllib
from typing import Any

from simulators import faults
from simulators.client import Client
from simulators.handiwork import Handiwork, Step
from simulators.mishaps import Mishaps
from simulators.press import BuilderStuck, Press, Report
from simulators.scenario import Remedy
from simulators.workbench import Station, Workbench

Json = dict[str, Any]

TRIES = 6
"""How often one step may be tried before the builder gives up."""
UNSETTLED = ("nonconforming", "undecided")


class Builder:
    """Builds the scenario's engine. ``report`` gets one JSON-ready dict for each thing done."""

    def __init__(
        self,
        bench: Workbench,
        client: Client,
        report: Report,
        *,
        pace: float = 0.0,
        stop: threading.Event | None = None,
    ) -> None:
        self._scenario = bench.scenario
        self._bench = bench
        self._client = client
        self._report = report
        self._pace = pace
        self._spec = self._scenario.spec.read_bytes()
        self._hand = Handiwork(bench)
        self._press = Press(
            bench, client, report, stop or threading.Event(), _repeat_window(self._spec)
        )
        self._mishaps = Mishaps(self._press, self._hand, self._scenario.mistakes)
        self._build = ""
        self._piece: tuple[str, int] | None = None
        self._tries: dict[str, int] = {}
        self._steps = 0

    def run(self) -> Json:
        """Builds until the service says it is done; gives the counts.

        BuilderStuck, Refused or Unreachable when it cannot go on; Stopped when asked to stop.
        """
        self._prepare()
        while not self._go_on():
            self._press.rest(self._pace)
        return self.counts()

    def counts(self) -> Json:
        """What was sent and done so far."""
        tally = self._press.tally
        return {
            "build": self._build,
            "readings_sent": self._bench.readings_sent,
            "noise_sent": self._bench.noise_sent,
            "steps_done": self._steps,
            "confirmations": tally.confirmations,
            "settings": tally.settings,
            "voided": tally.voided,
            "placed_by_hand": tally.placed,
            "reworks": tally.reworks,
            "concessions": tally.concessions,
            "mistakes": tally.mistakes,
            "mistakes_left": self._mishaps.left,
        }

    # before the first step --------------------------------------------------------------------

    def _prepare(self) -> None:
        client = self._client
        self._press.until(
            "the service is ready", lambda: client.get("/v1/health")["status"] == "ready"
        )
        client.post("/v1/operator", {"operator": self._scenario.operator})
        spec = client.post_toml("/v1/specs", self._spec)
        self._report({"event": "spec", "id": spec["id"], "title": spec.get("title")})
        build = client.post(
            "/v1/builds", {"spec": spec["id"], "title": f"{self._scenario.title} (invented)"}
        )
        self._build = build["id"]
        self._report({"event": "build", "id": self._build})
        for each in self._scenario.assignments:
            body = {"part": each.part, "number": each.number, "piece": each.piece}
            client.post(f"/v1/builds/{self._build}/assignments", body)
        self._press.ready()
        self._press.skip_to_newest()

    # one step after another -------------------------------------------------------------------

    def _go_on(self) -> bool:
        """Does one thing; True when the build is done."""
        coming = self._client.get(f"/v1/builds/{self._build}/next")
        step = coming["step"]
        if coming["done"]:
            self._steps = self._client.get(f"/v1/builds/{self._build}")["steps_done"]
            return True
        if self._is_leaving(step) and self._settle():
            return False
        if step is None:
            raise BuilderStuck(f"Nothing is open, and nothing can be settled: {coming}.")
        self._piece = (step["operation"], step["number"])
        self._count_try(step)
        self._do(step)
        return False

    def _is_leaving(self, step: Step | None) -> bool:
        """Whether a piece's points are all done: one settles a piece, not a point of it."""
        return step is None or self._piece != (step["operation"], step["number"])

    def _count_try(self, step: Step) -> None:
        """A rework makes a new pass and gives a step its tries again."""
        key = f"{step['id']} pass {step.get('pass')}"
        self._tries[key] = self._tries.get(key, 0) + 1
        if self._tries[key] > TRIES:
            raise BuilderStuck(f"Step {key} was tried {TRIES} times and is still open.")

    def _do(self, step: Step) -> None:
        if step["kind"] == "confirm":
            body = {"step": step["id"], "note": "Looked at by a simulated builder."}
            self._client.post(f"/v1/builds/{self._build}/confirmations", body)
            self._press.tally.confirmations += 1
            self._report({"event": "confirm", "step": step["id"]})
            return
        station = self._hand.station(step)
        if not self._mishaps.happens_before_setting(station, step, self._build):
            self._set(station, step)
            if not self._mishaps.happens(station, step, self._build):
                self._measure(station, step)

    def _set(self, station: Station, step: Step) -> None:
        standard = self._hand.setting_due(station, step)
        if standard is not None:
            self._hand.set_on(station, standard)
            self._press.set_gauge(station, standard)

    def _measure(self, station: Station, step: Step) -> None:
        value = self._hand.indication(station, step)
        (reading, *_) = self._press.send(station, value, station.plan.unit, faults.whole)
        if reading["placement"].get("step") is None:
            # Stored, but not counted: whatever it was, it is taken out and done again.
            self._press.void(reading, "It was not counted; measured again.")

    # what holds the work ----------------------------------------------------------------------

    def _settle(self) -> bool:
        """Settles one result that holds the work; False if none does."""
        state = self._client.get(f"/v1/builds/{self._build}")
        for hold in state["holds"]:
            if hold.get("result") in UNSETTLED:
                pieces = {(one["part"], one["number"]): one["piece"] for one in state["pieces"]}
                self._settle_one(str(hold["subject"]), str(hold["result"]), pieces)
                return True
        return False

    def _settle_one(self, subject: str, result: str, pieces: dict[tuple[str, int], str]) -> None:
        words = subject.split("/")
        number = int(words[1])
        remedy = next(
            (
                each
                for each in self._scenario.remedies
                if each.about == words[0] and each.number in (None, number)
            ),
            Remedy(words[0], f"Looked at again and accepted although {result}; simulated."),
        )
        if remedy.rework is None:
            body: Json = {"subject": subject, "reason": remedy.reason}
            self._client.post(f"/v1/builds/{self._build}/concessions", body)
            self._press.tally.concessions += 1
            self._report({"event": "concession", "result": result, **body})
            return
        if remedy.machines is not None:
            piece = pieces.get((remedy.rework, number), f"{remedy.rework}-{number}")
            self._hand.workshop.machine(remedy.machines, piece, remedy.change)
        body = {"part": remedy.rework, "number": number, "reason": remedy.reason}
        self._client.post(f"/v1/builds/{self._build}/reworks", body)
        self._press.tally.reworks += 1
        self._report({"event": "rework", "result": result, **body})


def _repeat_window(spec: bytes) -> float:
    """Seconds within which the spec takes the same digits for a button pressed twice."""
    decision = tomllib.loads(spec.decode("utf-8")).get("decision", {})
    return float(decision.get("repeat_window_ms", 1000)) / 1000
