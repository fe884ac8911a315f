"""What the builder's hand does at a step: which gauge it takes, and what that then shows."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from simulators.feelers import Found, with_leaves, with_settings, with_stacks
from simulators.gauges import Gauge, Surroundings, measures, scale, to_steps
from simulators.plan import Reach, Scenario, Standard
from simulators.pulls import Pull, drawn
from simulators.torque import ClickWrench, Hand, TorqueAdapter
from simulators.truth import Step, Truth, wanted
from simulators.workbench import Station, Workbench
from simulators.workshop import Workshop

BY_HAND = ("torque-wrench", "click-wrench")
"""Kinds of torque tool that an extension is put on."""


class NoGaugeFits(LookupError):
    """The bench has nothing to do this step with."""


class Handiwork:
    """Joins the true parts, the gauges and what a step asks for."""

    def __init__(self, bench: Workbench) -> None:
        self.bench = bench
        self.scenario: Scenario = bench.scenario
        self.workshop = Workshop(self.scenario.lot, self.scenario.features)
        self.truth = Truth(self.workshop, self.scenario.turnings)
        self.hand = Hand(spread=0.004, lot=self.scenario.lot)
        self._set_on: dict[str, Standard] = {}
        self._reach_on: dict[str, Reach] = {}

    # which gauge ------------------------------------------------------------------------------

    def station(self, step: Step) -> Station:
        """The instrument to take: of a suited kind, with a range that holds the size."""
        named = self._named(step)
        if named is not None:
            return self.bench.stations[named]
        kinds, about = step["instruments"], self.true_value(step)
        for station in self.bench.stations.values():
            if (
                station.plan.kind in kinds
                and not station.plan.traces
                and self._reaches(station, step["unit"], about)
            ):
                return station
        raise NoGaugeFits(
            f"Step {step['id']} wants {' or '.join(kinds)} for about {about:g} (mm, N·m, °, °C or "
            "cm³); no instrument of scenario.toml does. Add one, or widen its range or the "
            "standards."
        )

    def _named(self, step: Step) -> str | None:
        """The instrument the scenario names for this very operation."""
        operation = step["operation"]
        for zero in self.scenario.zeros:
            if zero.operation == operation:
                return zero.instrument
        for traced in self.scenario.traced:
            if traced.operation == operation and traced.stage in (None, step.get("point")):
                return traced.instrument
        reach = self.reach(step)
        return None if reach is None else reach.instrument

    def reach(self, step: Step) -> Reach | None:
        """The extension that this step's tool needs."""
        operation = step["operation"]
        return next((one for one in self.scenario.reaches if one.operation == operation), None)

    def _reaches(self, station: Station, unit: str, about: float) -> bool:
        if measures(station.plan.unit) != measures(unit):
            return False
        if station.plan.range is None:
            return True
        if station.plan.comparative:
            return self._nearest_standard(station, about) is not None
        lower, upper = (float(end) * scale(station.plan.unit) for end in station.plan.range)
        return lower <= about <= upper

    def _nearest_standard(self, station: Station, about: float) -> Standard | None:
        """The standard nearest to the size, if the deviation from it can be shown."""
        standards = [
            each
            for each in self.scenario.standards
            if not each.instruments or station.plan.id in each.instruments
        ]
        nearest = min(standards, key=lambda each: abs(_size(each) - about), default=None)
        if nearest is None:
            return None
        ends = station.plan.range or ("-1e9", "1e9")
        lower, upper = (float(end) * scale(station.plan.unit) for end in ends)
        return nearest if lower <= about - _size(nearest) <= upper else None

    # its setting ------------------------------------------------------------------------------

    def setting_due(self, station: Station, step: Step) -> Standard | None:
        """The standard a comparative gauge must be set on before this step; None if it is."""
        if not station.plan.comparative:
            return None
        standard = self._standard(station, step)
        return None if self._set_on.get(station.plan.id) == standard else standard

    def _standard(self, station: Station, step: Step) -> Standard | None:
        if step["kind"] != "zero":
            return self._nearest_standard(station, self.true_value(step))
        name = next(
            one.standard for one in self.scenario.zeros if one.operation == step["operation"]
        )
        return self.standard(name)

    def standard(self, name: str) -> Standard:
        """The standard of this id. NoGaugeFits when there is none."""
        for each in self.scenario.standards:
            if each.id == name:
                return each
        raise NoGaugeFits(f"scenario.toml has no [[standard]] '{name}'. Add it.")

    def set_on(self, station: Station, standard: Standard) -> None:
        """Sets a comparative gauge on a standard."""
        assert isinstance(station.gauge, Gauge)
        station.gauge.set_zero(_size(standard))
        self._set_on[station.plan.id] = standard

    def unset(self, instrument: str) -> None:
        """The gauge is to be set again before it is used."""
        self._set_on.pop(instrument, None)

    def extension_due(self, station: Station, step: Step) -> Reach | None:
        """The extension to be entered before this step; with length 0 where it comes off."""
        if station.plan.kind not in BY_HAND:
            return None
        due, on = self.reach(step), self._reach_on.get(station.plan.id)
        if due == on:
            return None
        if due is not None:
            return due
        assert on is not None
        return Reach(on.operation, on.instrument, on.tool_length, "0", "0", on.unit)

    def put_on(self, station: Station, reach: Reach) -> None:
        """Takes note that this extension is on the tool; one of length 0 takes it off."""
        self._reach_on[station.plan.id] = reach
        if float(reach.length) == 0:
            del self._reach_on[station.plan.id]

    # what is there, and what it shows -----------------------------------------------------------

    def true_value(self, step: Step) -> float:
        """The truth at this step, in the workshop's own unit."""
        if step["kind"] == "measure":
            return self.truth.size(
                step["characteristic"], step["part"], step["number"], step.get("point") or ""
            )
        if step["kind"] == "turn":
            return self.truth.turning_torque(_test(step), step["number"])
        if step["kind"] == "zero":
            return 0.0
        if step["kind"] == "study":
            return self.workshop.true_size(_test(step), f"sample-{step['number']}")
        return wanted(step)

    def indication(self, station: Station, step: Step) -> Decimal:
        """What the instrument shows when this step is done."""
        if step["kind"] == "zero":
            return self._on_its_standard(station, step)
        if step["kind"] == "check":
            return self._tested(station, step)
        if isinstance(station.gauge, TorqueAdapter):
            return station.gauge.peak(self.hand.pull(self.at_tool(step, self.true_value(step))))
        if step["kind"] == "tighten":  # by angle: the hand stops near it
            return to_steps(max(self.hand.pull(wanted(step))), station.plan.resolution)
        return self.measured(station, step)

    def measured(
        self,
        station: Station,
        step: Step,
        *,
        unit: str | None = None,
        resolution: Decimal | None = None,
    ) -> Decimal:
        """What a gauge shows of what this step measures."""
        assert isinstance(station.gauge, Gauge), f"{station.plan.id} measures no sizes"
        return station.gauge.indicate(
            self.true_value(step),
            part_expansion=self.workshop.feature(_test(step)).expansion,
            surroundings=self.bench.surroundings,
            unit=unit,
            resolution=resolution,
        )

    def trace(self, station: Station, step: Step, kind: str = "click") -> Pull:
        """The trace of a pull, as the station sends it."""
        assert isinstance(station.gauge, TorqueAdapter), f"{station.plan.id} traces no torque"
        shown = float(station.gauge.peak(self.hand.pull(self.at_tool(step, wanted(step)))))
        return drawn(
            kind, shown, station.plan.unit, station.plan.resolution, f"{step['id']} {shown}"
        )

    def at_tool(self, step: Step, torque: float) -> float:
        """What the tool shows of a torque at the fastener: less, where its head reaches further."""
        reach = self.reach(step)
        if reach is None:
            return torque
        assert float(reach.angle) == 0, "the simulated builder only uses a straight extension"
        return torque / (1 + float(reach.length) / float(reach.tool_length))

    def _on_its_standard(self, station: Station, step: Step) -> Decimal:
        assert isinstance(station.gauge, Gauge)
        standard = self._standard(station, step)
        assert standard is not None, f"{station.plan.id} has no standard for {step['id']}"
        # Ring and gauge have lain side by side.
        warmth = self.bench.surroundings.gauge
        return station.gauge.indicate(_size(standard), surroundings=Surroundings(warmth, warmth))

    def _tested(self, station: Station, step: Step) -> Decimal:
        """What the reference shows when the tool under test is pulled until it clicks."""
        assert isinstance(station.gauge, TorqueAdapter)
        tool = self.bench.stations[step["tool"]].gauge
        assert isinstance(tool, ClickWrench), f"{step['tool']} has no settings"
        return station.gauge.peak(iter((tool.clicks_at(wanted(step) / scale(tool.unit)),)))

    def found(self, station: Station, step: Step, between: Found | None = None) -> Found:
        """Between which leaves or settings the truth lies; finer, where it was found before."""
        truth = self.true_value(step)
        if isinstance(station.gauge, ClickWrench):
            assert station.plan.range is not None, f"{station.plan.id} needs its range of settings"
            low, high = (Decimal(end) for end in station.plan.range)
            return with_settings(
                truth, station.plan.resolution, (low, high), station.gauge.clicks_at
            )
        leaves = leaves_of(station)
        gap = truth / scale(station.plan.unit)
        return with_leaves(gap, leaves) if between is None else with_stacks(gap, leaves, between)


def is_bracketed(station: Station) -> bool:
    """Whether it says between which two values a size lies, rather than the size."""
    return bool(station.plan.leaves) or isinstance(station.gauge, ClickWrench)


def leaves_of(station: Station) -> list[Decimal]:
    """The leaves of a feeler set, in the order of the fan."""
    return [Decimal(leaf) for leaf in station.plan.leaves]


def _test(step: Step) -> str:
    """Id of the characteristic, turning test or study."""
    return str(step.get("characteristic") or step["operation"])


def _size(standard: Standard) -> float:
    return float(standard.size) * scale(standard.unit)


def as_other(step: Step, number: int) -> dict[str, Any]:
    """The same step at another number of its part."""
    return {**step, "number": number, "piece": None}
