"""The simulated bench: every instrument with its gauge, its wire format and its cable.

A press here is what the hand does: the gauge indicates, the display's digits are written in the
instrument's wire format, and the bytes go down its cable. ``readings_sent`` counts every whole
message put on the wire, ``noise_sent`` every burst of noise.
"""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from types import TracebackType

from simulators import faults
from simulators.bench_file import bench_toml
from simulators.gauges import Gauge, Surroundings, measures
from simulators.plan import InstrumentPlan, Scenario
from simulators.serial_side import Cable
from simulators.torque import ClickWrench, TorqueAdapter
from simulators.wire import NOTHING_TO_GIVE, REQUEST, Wire, wire_for

TYPED = "typed"
ASKED = "asked-decimal-line"


@dataclass(slots=True)
class Station:
    """One instrument at its place."""

    plan: InstrumentPlan
    gauge: Gauge | TorqueAdapter | ClickWrench
    wire: Wire | None
    """None: its readings are typed in by hand."""
    cable: Cable | None
    waiting: bytes = b""
    """The answer an instrument that must be asked has ready."""

    @property
    def answers(self) -> bool:
        """It sends only when it is asked."""
        return self.plan.profile == ASKED


class Workbench:
    """All stations of a scenario, with their cables in ``folder``. Use as a context."""

    def __init__(
        self,
        scenario: Scenario,
        folder: Path,
        sleep: Callable[[float], object] = time.sleep,
    ) -> None:
        self.scenario = scenario
        self.folder = folder
        self.surroundings = Surroundings(scenario.part_temperature, scenario.gauge_temperature)
        self.stations: dict[str, Station] = {}
        self.cables: dict[str, Cable] = {}
        self.readings_sent = 0
        self.noise_sent = 0
        self._sleep = sleep
        self._random = random.Random(f"{scenario.lot}/noise")
        self._lock = threading.Lock()

    @property
    def bench_file(self) -> Path:
        return self.folder / "bench.toml"

    def __enter__(self) -> Workbench:
        self.folder.mkdir(parents=True, exist_ok=True)
        try:
            for port in self.scenario.ports:
                asked = any(
                    plan.port == port.id and plan.profile == ASKED
                    for plan in self.scenario.instruments
                )
                answer = self._answerer(port.id) if asked else None
                self.cables[port.id] = Cable(self.folder / "ports" / port.id, answer)
            for plan in self.scenario.instruments:
                self.stations[plan.id] = self._station(plan)
            devices = {name: cable.path for name, cable in self.cables.items()}
            self.bench_file.write_text(bench_toml(self.scenario, devices), "utf-8")
        except BaseException:
            self.close()
            raise
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Unplugs every cable. bench.toml stays."""
        for cable in self.cables.values():
            cable.close()

    def _station(self, plan: InstrumentPlan) -> Station:
        typed = plan.port == TYPED
        wire = None if typed else wire_for(plan.profile, plan.channel, plan.sends_unit)
        return Station(
            plan, _gauge(plan, self.scenario.lot), wire, None if typed else self.cables[plan.port]
        )

    # what the hand does -----------------------------------------------------------------------

    def message(self, station: Station, value: Decimal, unit: str) -> bytes:
        """The bytes of one reading."""
        assert station.wire is not None, f"{station.plan.id} has no wire: its readings are typed"
        return station.wire.message(value, unit)

    def send(self, station: Station, chunks: Sequence[faults.Chunk], readings: int) -> None:
        """Puts chunks that hold ``readings`` whole messages on the station's cable."""
        assert station.cable is not None
        with self._lock:
            # Counted first: the reading may be stored before this thread runs again.
            self.readings_sent += readings
        for chunk in chunks:
            station.cable.write(chunk.data)
            if chunk.pause:
                self._sleep(chunk.pause)

    def make_noise(self, station: Station) -> None:
        """One burst of noise on the station's cable."""
        assert station.wire is not None
        assert station.cable is not None
        with self._lock:
            self.noise_sent += 1
        station.cable.write(station.wire.noise(self._random))

    def have_ready(self, station: Station, message: bytes) -> None:
        """The answer to the next request."""
        with self._lock:
            station.waiting = message

    def typed_in(self) -> None:
        """Counts a reading that went by the keyboard."""
        with self._lock:
            self.readings_sent += 1

    def _answerer(self, port: str) -> Callable[[bytes], None]:
        heard = bytearray()

        def answer(request: bytes) -> None:
            heard.extend(request)
            while REQUEST in heard:
                del heard[: heard.index(REQUEST) + len(REQUEST)]
                station = next(each for each in self.stations.values() if each.plan.port == port)
                with self._lock:
                    message, station.waiting = station.waiting, b""
                    self.readings_sent += bool(message)
                    # An instrument asked in vain says so, and that is stored as undecodable.
                    self.noise_sent += not message
                self.cables[port].write(message or NOTHING_TO_GIVE)

        return answer


def _gauge(plan: InstrumentPlan, lot: str) -> Gauge | TorqueAdapter | ClickWrench:
    made: Gauge | TorqueAdapter | ClickWrench
    if plan.kind == "click-wrench":
        made = ClickWrench(plan.id, plan.unit, plan.resolution, lot=lot)
    elif measures(plan.unit) == "torque":
        made = TorqueAdapter(plan.id, plan.unit, plan.resolution, lot=lot)
    else:
        made = Gauge(
            plan.id, plan.kind, plan.unit, plan.resolution, comparative=plan.comparative, lot=lot
        )
    for name, size in plan.errors.items():
        setattr(made, name, size)
    return made
