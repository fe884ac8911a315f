"""What the builder's hand does at a step: which gauge it takes, and what that then shows."""

from __future__ import annotations

import random
from decimal import Decimal
from typing import Any

from simulators.gauges import IN_MM_OR_NM, Gauge
from simulators.scenario import Scenario, Standard
from simulators.torque import Hand, TorqueAdapter
from simulators.workbench import Station, Workbench
from simulators.workshop import Workshop

Step = dict[str, Any]
"""A step as the service's JSON has it."""


class NoGaugeFits(LookupError):
    """The bench has nothing to do this step with."""


class Handiwork:
    """Joins the true parts, the gauges and what a step asks for."""

    def __init__(self, bench: Workbench) -> None:
        self.bench = bench
        self.scenario: Scenario = bench.scenario
        self.workshop = Workshop(self.scenario.lot, self.scenario.features)
        self._hand = Hand(lot=self.scenario.lot)
        self._set_on: dict[str, Standard] = {}

    # which gauge ------------------------------------------------------------------------------

    def station(self, step: Step) -> Station:
        """The instrument to take: of a suited kind, with a range that holds the size."""
        kinds = step["instruments"]
        for station in self.bench.stations.values():
            if station.plan.kind in kinds and self._reaches(station, step):
                return station
        raise NoGaugeFits(
            f"Step {step['id']} wants {' or '.join(kinds)} for about {about(step):g} (mm or N·m); "
            "no instrument of scenario.toml does. Add one, or widen its range or the standards."
        )

    def _reaches(self, station: Station, step: Step) -> bool:
        if station.plan.range is None:
            return True
        if station.plan.comparative:
            return self._nearest_standard(station, step) is not None
        lower, upper = (float(end) * _scale(station.plan.unit) for end in station.plan.range)
        return lower <= about(step) <= upper

    def _nearest_standard(self, station: Station, step: Step) -> Standard | None:
        """The standard nearest to the size, if the deviation from it can be shown."""
        size = about(step)
        standards = [
            each
            for each in self.scenario.standards
            if not each.instruments or station.plan.id in each.instruments
        ]
        nearest = min(standards, key=lambda each: abs(_size(each) - size), default=None)
        if nearest is None:
            return None
        ends = station.plan.range or ("-1e9", "1e9")
        lower, upper = (float(end) * _scale(station.plan.unit) for end in ends)
        return nearest if lower <= size - _size(nearest) <= upper else None

    def setting_due(self, station: Station, step: Step) -> Standard | None:
        """The standard a comparative gauge must be set on before this step; None if it is."""
        if not station.plan.comparative:
            return None
        standard = self._nearest_standard(station, step)
        return None if self._set_on.get(station.plan.id) == standard else standard

    def set_on(self, station: Station, standard: Standard) -> None:
        """Sets a comparative gauge on a standard."""
        assert isinstance(station.gauge, Gauge)
        station.gauge.set_zero(_size(standard))
        self._set_on[station.plan.id] = standard

    # what it shows ----------------------------------------------------------------------------

    def indication(self, station: Station, step: Step) -> Decimal:
        """What the instrument shows when this step is done."""
        if step["kind"] == "measure":
            return self.measured(
                station, step["characteristic"], identity(step), step.get("point") or ""
            )
        return self._pulled(station, step)

    def measured(
        self,
        station: Station,
        characteristic: str,
        piece: str,
        point: str,
        *,
        unit: str | None = None,
        resolution: Decimal | None = None,
    ) -> Decimal:
        """What a gauge shows of this feature of this piece."""
        assert isinstance(station.gauge, Gauge), f"{station.plan.id} measures no sizes"
        return station.gauge.indicate(
            self.workshop.true_size(characteristic, piece, point),
            part_expansion=self.workshop.feature(characteristic).expansion,
            surroundings=self.bench.surroundings,
            unit=unit,
            resolution=resolution,
        )

    def _pulled(self, station: Station, step: Step) -> Decimal:
        assert isinstance(station.gauge, TorqueAdapter), f"{station.plan.id} measures no torque"
        return station.gauge.peak(self._hand.pull(self._torque(step)))

    def _torque(self, step: Step) -> float:
        """What the fastener is pulled to, or what the assembly resists with, N·m."""
        if step["kind"] != "turn":
            return about(step)
        test = str(step.get("characteristic") or step["operation"])
        for turning in self.scenario.turnings:
            if turning.test in (test, test.removeprefix("turn-")):
                drawn = random.Random(f"{self.scenario.lot}/{turning.test}")
                return turning.torque + drawn.uniform(-turning.spread, turning.spread)
        raise NoGaugeFits(
            f"scenario.toml has no [[turning]] for the test '{test}'. Add one with its torque."
        )


def identity(step: Step, number: int | None = None) -> str:
    """The piece a step measures; the position's own name where another number is meant."""
    if number is None or number == step["number"]:
        return str(step.get("piece") or f"{step['part']}-{step['number']}")
    return f"{step['part']}-{number}"


def about(step: Step) -> float:
    """About what a step's reading should be, mm or N·m: its nominal size, or between its limits."""
    given = [step.get("nominal_size")]
    if given[0] is None:
        given = [step.get("lower"), step.get("upper")]
    numbers = [float(each) for each in given if each is not None]
    if not numbers:
        raise NoGaugeFits(f"Step {step['id']} has neither a nominal size nor limits.")
    return sum(numbers) / len(numbers) * _scale(step["unit"])


def _size(standard: Standard) -> float:
    return float(standard.size) * _scale(standard.unit)


def _scale(unit: str) -> float:
    return IN_MM_OR_NM[unit]
