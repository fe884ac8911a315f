"""The robot builder: builds one engine the way a person at the bench would, by HTTP and SEND.

It knows the service only by its API. It posts the spec, opens a build, and then does what the
service asks for next: makes the gauge ready, presses SEND on the right one, types what leaves and
click tools show, confirms what only a person can, and settles what holds the work. It makes the
mistakes its scenario plans, and mends each as a person would: by a new entry, never by taking one
back.
"""

from __future__ import annotations

import threading
import tomllib
from collections import Counter
from typing import Any

from simulators import faults
from simulators.client import Client
from simulators.entries import Report
from simulators.feelers import Found
from simulators.handiwork import Handiwork, is_bracketed
from simulators.mishaps import Mishaps
from simulators.press import BuilderStuck, Press
from simulators.settling import Settling
from simulators.truth import Step
from simulators.workbench import Station, Workbench

Json = dict[str, Any]

FINER = "finer-step-wanted"
"""The reason of a bracket that a finer leaf or setting would settle."""
TRIES = 6
"""How often one step may be tried before the builder gives up."""
YIELDED = "tightened-into-yield"


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
        self._settling = Settling(self._press, self._hand, self._scenario.remedies)
        self._build = ""
        self._piece: tuple[str, int] | None = None
        self._tries: Counter[str] = Counter()
        self._found: dict[str, Found] = {}
        self._at_bench = ""
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
            "brackets": tally.brackets,
            "pulls": tally.pulls,
            "voided": tally.voided,
            "placed_by_hand": tally.placed,
            "reworks": tally.reworks,
            "concessions": tally.concessions,
            "fits": tally.fits,
            "sets_measured_again": tally.remeasured,
            "mistakes": tally.mistakes,
            "mistakes_left": self._mishaps.left,
            "caught": tally.caught,
        }

    # before the first step --------------------------------------------------------------------

    def _prepare(self) -> None:
        client = self._client
        self._press.until(
            "the service is ready", lambda: client.get("/v1/health")["status"] == "ready"
        )
        self._stand(self._scenario.operator)
        spec = client.post_toml("/v1/specs", self._spec)
        self._report({"event": "spec", "id": spec["id"], "title": spec.get("title")})
        build = client.post(
            "/v1/builds", {"spec": spec["id"], "title": f"{self._scenario.title} (invented)"}
        )
        self._build = build["id"]
        self._report({"event": "build", "id": self._build})
        for each in self._scenario.assignments:
            self._assign(each.part, each.number, each.piece)
        self._hand.truth.fit(client.get(f"/v1/builds/{self._build}")["pieces"])
        for instrument in self._scenario.instruments:
            if instrument.expansion is not None:
                self._press.warmth(instrument.id, self._scenario.gauge_temperature)
        self._press.ready()
        self._press.skip_to_newest()

    def _stand(self, operator: str) -> None:
        """Somebody else stands at the bench, where it is somebody else."""
        if operator != self._at_bench:
            self._client.post("/v1/operator", {"operator": operator})
            self._at_bench = operator

    def _assign(self, part: str, number: int, piece: str) -> None:
        body = {"part": part, "number": number, "piece": piece}
        self._client.post(f"/v1/builds/{self._build}/assignments", body)

    # one step after another -------------------------------------------------------------------

    def _go_on(self) -> bool:
        """Does one thing; True when the build is done."""
        coming = self._client.get(f"/v1/builds/{self._build}/next")
        step = coming["step"]
        if coming["done"]:
            self._steps = self._client.get(f"/v1/builds/{self._build}")["steps_done"]
            return True
        if self._is_leaving(step) and self._settling.settle(self._build, at_end=step is None):
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
        self._tries[key] += 1
        if self._tries[key] > TRIES:
            raise BuilderStuck(f"Step {key} was tried {TRIES} times and is still open.")

    def _do(self, step: Step) -> None:
        if step["kind"] == "confirm":
            body = {"step": step["id"], "note": "Looked at by a simulated builder."}
            self._client.post(f"/v1/builds/{self._build}/confirmations", body)
            self._press.tally.confirmations += 1
            self._report({"event": "confirm", "step": step["id"]})
            return
        if step["kind"] == "study":
            self._stand(str(step["point"]).rpartition("-")[0])
        station = self._hand.station(step)
        if step["kind"] == "tighten":
            self._press.move_on(station)
        if not self._mishaps.happens_before_setting(station, step, self._build):
            self._make_ready(station, step)
            if not self._mishaps.happens(station, step, self._build):
                self._measure(station, step)

    def _make_ready(self, station: Station, step: Step) -> None:
        standard = self._hand.setting_due(station, step)
        if standard is not None:
            self._hand.set_on(station, standard)
            self._press.set_gauge(station, standard)
        extension = self._hand.extension_due(station, step)
        if extension is not None:
            self._hand.put_on(station, extension)
            self._press.reach(extension)

    def _measure(self, station: Station, step: Step) -> None:
        if is_bracketed(station):
            reading = self._bracket(station, step)
        elif station.plan.traces:
            (reading, *_) = self._press.pull(station, self._hand.trace(station, step))
        else:
            value = self._hand.indication(station, step)
            (reading, *_) = self._press.send(station, value, station.plan.unit, faults.whole)
        reason = reading["placement"].get("reason") or {}
        if reading["placement"].get("step") is None:
            # Stored, but not counted: whatever it was, it is taken out and done again.
            self._press.void(reading, "It was not counted; measured again.")
        if isinstance(reason, dict) and reason.get("code") == YIELDED:
            self._press.caught("yielded-twice", YIELDED, reason.get("detail"))
            piece = f"{self._hand.truth.piece(step['part'], step['number'])}-new"
            self._assign(step["part"], step["number"], piece)
            self._hand.truth.fit(self._client.get(f"/v1/builds/{self._build}")["pieces"])

    def _bracket(self, station: Station, step: Step) -> Json:
        """Finds it with leaves or settings; finer, where that did not settle it before."""
        this = f"{step['id']} pass {step.get('pass')}"
        found = self._hand.found(station, step, self._found.get(this))
        (reading, *_) = self._press.send_bracket(station, found, station.plan.unit)
        reason = reading["placement"].get("reason")
        if isinstance(reason, dict) and reason.get("code") == FINER:
            self._found[this] = found
        return reading


def _repeat_window(spec: bytes) -> float:
    """Seconds within which the spec takes the same digits for a button pressed twice."""
    decision = tomllib.loads(spec.decode("utf-8")).get("decision", {})
    return float(decision.get("repeat_window_ms", 1000)) / 1000
