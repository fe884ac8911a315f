"""Pressing SEND and waiting until the service has the reading stored."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from decimal import Decimal

from simulators.client import Client
from simulators.entries import Entries, Json, Report
from simulators.faults import Chunk
from simulators.feelers import Found
from simulators.pulls import Pull
from simulators.workbench import Station, Workbench

PATIENCE = 30.0
"""Seconds to wait for a reading to be stored, or for a port to be ready."""


class BuilderStuck(RuntimeError):
    """The builder does not know how to go on."""


class Stopped(RuntimeError):
    """Someone asked the builder to stop."""


class Press(Entries):
    """The builder's hands: every act is one here, and each is reported."""

    def __init__(
        self,
        bench: Workbench,
        client: Client,
        report: Report,
        stop: threading.Event,
        repeat_window: float = 1.0,
    ) -> None:
        super().__init__(client, report)
        self.bench = bench
        self._stop = stop
        self._repeat_window = repeat_window
        self._after = 0
        self._last: dict[str, tuple[Decimal, str, float]] = {}

    # waiting ----------------------------------------------------------------------------------

    def rest(self, seconds: float) -> None:
        """Waits, unless the builder is asked to stop. Stopped if it is."""
        if self._stop.wait(seconds) if seconds > 0 else self._stop.is_set():
            raise Stopped("asked to stop")

    def until(self, what: str, true: Callable[[], bool]) -> None:
        """Waits until something is so. BuilderStuck, naming it, when it never is."""
        deadline = time.monotonic() + PATIENCE
        pause = 0.001
        while not true():
            if time.monotonic() > deadline:
                raise BuilderStuck(f"Waited {PATIENCE:g} s in vain until {what}.")
            self.rest(pause)
            pause = min(pause * 1.5, 0.1)

    def ready(self, instrument: str | None = None, wanted: bool = True) -> None:
        """Waits until the instrument (or every one) is ready, or no longer is."""

        def so() -> bool:
            states = {
                one["id"]: (one.get("device") or {}).get("state")
                for one in self.client.get("/v1/instruments")["instruments"]
            }
            names = (
                [instrument]
                if instrument
                else [name for name, each in self.bench.stations.items() if each.cable]
            )
            return all((states.get(name) == "ready") is wanted for name in names)

        self.until(f"{instrument or 'every instrument'} is {'' if wanted else 'not '}ready", so)

    # readings ---------------------------------------------------------------------------------

    def skip_to_newest(self) -> None:
        """What was stored before is not ours."""
        while self._new_readings():
            pass

    def _new_readings(self) -> list[Json]:
        page = self.client.get("/v1/readings", after=self._after, limit=1000)
        self._after = page["next"]
        readings: list[Json] = page["readings"]
        return readings

    def collect(self, station: Station, count: int) -> list[Json]:
        """The next ``count`` readings of an instrument, once they are stored."""
        found: list[Json] = []

        def so() -> bool:
            found.extend(
                one for one in self._new_readings() if one["instrument"] == station.plan.id
            )
            return len(found) >= count

        self.until(f"{count} reading(s) of {station.plan.id} are stored", so)
        for reading in found:
            self.report(
                {
                    "event": "press",
                    "seq": reading["seq"],
                    "instrument": reading["instrument"],
                    "value": reading["value"],
                    "unit": reading["unit"],
                    "bracket": reading.get("bracket"),
                    "step": reading["placement"].get("step"),
                    "reason": reading["placement"].get("reason"),
                    "result": (reading["verdict"] or {}).get("result"),
                }
            )
        return found

    def steady(self, station: Station, value: Decimal, unit: str) -> None:
        """Waits until the same digits again would not be taken for a button pressed twice.

        Nobody moves a gauge to the next point that fast; a robot without a pace does.
        """
        last = self._last.get(station.plan.id)
        if last is not None and last[:2] == (value, unit):
            self.move_on(station)
        self._last[station.plan.id] = (value, unit, time.monotonic())

    def move_on(self, station: Station) -> None:
        """Takes the time that a hand needs from one fastener to the next, so that a pull is not
        taken for a second one on the same."""
        last = self._last.get(station.plan.id)
        if last is not None:
            self.rest(last[2] + self._repeat_window * 1.05 + 0.01 - time.monotonic())

    def send(
        self,
        station: Station,
        value: Decimal,
        unit: str,
        shape: Callable[[bytes], Sequence[Chunk]],
        copies: int = 1,
    ) -> list[Json]:
        """One press: sends it as ``shape`` puts it on the wire, waits, gives what was stored."""
        self.steady(station, value, unit)
        if station.cable is None:
            self.bench.typed_in()
            self.client.post(
                "/v1/readings",
                {"instrument": station.plan.id, "value": format(value, "f"), "unit": unit},
            )
        elif station.answers:
            self.bench.have_ready(station, self.bench.message(station, value, unit))
            self.client.post(f"/v1/instruments/{station.plan.id}/ask", {})
        else:
            message = self.bench.message(station, value, unit)
            self.bench.send(station, shape(message), copies)
            return self._collected(station, value, unit, copies)
        return self._collected(station, value, unit, 1)

    def _collected(self, station: Station, value: Decimal, unit: str, count: int) -> list[Json]:
        readings = self.collect(station, count)
        self._last[station.plan.id] = (value, unit, time.monotonic())
        return readings

    def send_merged(self, station: Station, values: Sequence[Decimal], unit: str) -> list[Json]:
        """Several readings in one write."""
        self.steady(station, values[0], unit)
        data = b"".join(self.bench.message(station, value, unit) for value in values)
        self.bench.send(station, [Chunk(data)], len(values))
        return self._collected(station, values[-1], unit, len(values))

    def send_bracket(self, station: Station, found: Found, unit: str) -> list[Json]:
        """Types between which leaves, or settings, a size lies."""
        known = found.upper if found.lower is None else found.lower
        assert known is not None, "neither end of the bracket is known"
        self.steady(station, known, unit)
        self.bench.typed_in()
        body = {"instrument": station.plan.id, "unit": unit, "bracket": found.to_body()}
        self.client.post("/v1/readings", body)
        self.tally.brackets += 1
        return self._collected(station, known, unit, 1)

    def pull(self, station: Station, trace: Pull) -> list[Json]:
        """Hands over the trace of a pull."""
        self.bench.typed_in()
        self.client.post("/v1/pulls", {"instrument": station.plan.id, **trace.to_body()})
        self.tally.pulls += 1
        return self._collected(station, Decimal(0), trace.unit, 1)
