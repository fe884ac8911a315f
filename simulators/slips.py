"""Mistakes of the hand, and how each is mended: the step stays open and is done again.

The service is meant to notice each from its data; ``questioned`` takes note whether it did.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from simulators import faults
from simulators.feelers import with_a_leaf_hidden
from simulators.gauges import Gauge, scale
from simulators.handiwork import Handiwork, as_other, leaves_of
from simulators.plan import Mistake
from simulators.press import Press
from simulators.truth import Step, wanted
from simulators.workbench import Station

Json = dict[str, Any]

INCH_RESOLUTION = {"0.001": Decimal("0.00005"), "0.01": Decimal("0.0005")}
"""What a mm display's resolution becomes when its inch key is pressed."""


class Slips:
    """Makes one at a time."""

    def __init__(self, press: Press, hand: Handiwork) -> None:
        self._press = press
        self._hand = hand
        self.makers: dict[str, Callable[[Mistake, Station, Step, str], None]] = {
            "unset-gauge": self._unset_gauge,
            "wrong-standard": self._wrong_standard,
            "wrong-unit": self._wrong_unit,
            "wrong-cylinder": self._wrong_cylinder,
            "neighbour": self._neighbour,
            "wrong-part": self._wrong_part,
            "knocked-gauge": self._knocked_gauge,
            "hidden-leaf": self._hidden_leaf,
            "second-pull": self._second_pull,
            "rough-pull": self._rough_pull,
            "extension-left-out": self._extension_left_out,
            "overturned": self._overturned,
        }

    def _shown(self, kind: str, station: Station, value: Decimal, unit: str | None = None) -> Json:
        """One press that ought to be questioned."""
        unit = unit or station.plan.unit
        (reading, *_) = self._press.send(station, value, unit, faults.whole)
        self._press.questioned(kind, reading)
        return reading

    # how the gauge was made ready -----------------------------------------------------------------

    def _unset_gauge(self, plan: Mistake, station: Station, step: Step, build: str) -> None:
        reading = self._shown(plan.kind, station, self._hand.indication(station, step))
        self._press.void(reading, "The gauge had not been set on its standard.")

    def _wrong_standard(self, plan: Mistake, station: Station, step: Step, build: str) -> None:
        """Set on the right ring, entered as another one."""
        assert plan.standard is not None, "scenario.toml: a wrong-standard mistake needs 'standard'"
        due = self._hand.setting_due(station, step)
        assert due is not None, f"{station.plan.id} is set already when {plan.kind} is due"
        self._hand.set_on(station, due)
        self._press.set_gauge(station, self._hand.standard(plan.standard))
        reading = self._shown(plan.kind, station, self._hand.indication(station, step))
        self._press.void(reading, f"The gauge was set on {due.id}, not on {plan.standard}.")
        self._press.set_gauge(station, due)

    def _extension_left_out(self, plan: Mistake, station: Station, step: Step, build: str) -> None:
        reading = self._shown(plan.kind, station, self._hand.indication(station, step))
        self._press.void(reading, "The offset head had not been entered.")

    def _knocked_gauge(self, plan: Mistake, station: Station, step: Step, build: str) -> None:
        """Nobody notices: this reading and those after it are off until the closing zero check."""
        assert isinstance(station.gauge, Gauge)
        station.gauge.knock(plan.change)
        value = self._hand.indication(station, step)
        self._press.send(station, value, station.plan.unit, faults.whole)

    # what was measured ----------------------------------------------------------------------------

    def _wrong_unit(self, plan: Mistake, station: Station, step: Step, build: str) -> None:
        finer = INCH_RESOLUTION.get(format(station.plan.resolution, "f"), Decimal("0.0001"))
        shown = self._hand.measured(station, step, unit="in", resolution=finer)
        reading = self._shown(plan.kind, station, shown, "in")
        self._press.void(reading, "The gauge stood on inch; set back to mm and measured again.")

    def _wrong_cylinder(self, plan: Mistake, station: Station, step: Step, build: str) -> None:
        meant = as_other(step, plan.measures_number)
        reading = self._shown(plan.kind, station, self._hand.indication(station, meant))
        operation, _, *rest = step["id"].split("/")
        right = "/".join((operation, str(plan.measures_number), *rest))
        self._move(reading, build, right, f"This was {step['part']} {plan.measures_number}.")

    def _neighbour(self, plan: Mistake, station: Station, step: Step, build: str) -> None:
        """The gauge went into the wrong one, and only the others of the set can tell."""
        meant = as_other(step, plan.measures_number)
        reading = self._shown(plan.kind, station, self._hand.indication(station, meant))
        where = f"{step['part']} {plan.measures_number}"
        self._press.void(reading, f"Taken in {where} by mistake; measured again.")

    def _wrong_part(self, plan: Mistake, station: Station, step: Step, build: str) -> None:
        assert plan.measures is not None, "scenario.toml: a wrong-part mistake needs 'measures'"
        meant = self._step_of(plan, step, build)
        other = self._hand.station(meant)
        reading = self._shown(plan.kind, other, self._hand.indication(other, meant))
        self._move(reading, build, meant["id"], f"This was {plan.measures} {meant['number']}.")

    def _step_of(self, plan: Mistake, step: Step, build: str) -> Step:
        """The step really measured, like the present one in what the list does not say of it."""
        steps: list[Step] = self._press.client.get(f"/v1/builds/{build}/steps")["steps"]
        found = next(
            each
            for each in steps
            if each["characteristic"] == plan.measures
            and each["number"] == plan.measures_number
            and (each.get("point") or "") == plan.measures_point
        )
        return {**step, **found, "unit": "mm"}

    def _move(self, reading: Json, build: str, step: str, reason: str) -> None:
        """To the step it belongs to; taken out of the count if it cannot answer that one."""
        if not self._press.place(reading, build, step, reason):
            self._press.void(reading, reason)

    def _hidden_leaf(self, plan: Mistake, station: Station, step: Step, build: str) -> None:
        gap = self._hand.true_value(step) / scale(station.plan.unit)
        found = with_a_leaf_hidden(gap, leaves_of(station))
        assert found is not None, f"no two neighbouring leaves go into {step['id']} together"
        (reading, *_) = self._press.send_bracket(station, found, station.plan.unit)
        self._press.questioned(plan.kind, reading)
        self._press.void(reading, "One leaf was hidden behind the other; measured again.")

    # how it was pulled ----------------------------------------------------------------------------

    def _second_pull(self, plan: Mistake, station: Station, step: Step, build: str) -> None:
        """Done, and pulled once more to be sure."""
        self._press.pull(station, self._hand.trace(station, step))
        (reading, *_) = self._press.pull(station, self._hand.trace(station, step))
        self._press.questioned(plan.kind, reading)
        self._press.void(reading, "A second pull on the same bolt.")

    def _rough_pull(self, plan: Mistake, station: Station, step: Step, build: str) -> None:
        """Its torque may be right and count; its trace shows how it was pulled."""
        (reading, *_) = self._press.pull(station, self._hand.trace(station, step, plan.pull))
        found = (reading.get("trace") or {}).get("found") or {}
        for code, sentence in zip(found.get("codes", ()), found.get("sentences", ()), strict=True):
            self._press.caught(plan.kind, code, sentence)

    def _overturned(self, plan: Mistake, station: Station, step: Step, build: str) -> None:
        if plan.measures is not None:
            piece = self._hand.truth.piece(step["part"], step["number"])
            self._hand.workshop.machine(plan.measures, piece, plan.stretches)
        far = wanted(step) / scale(station.plan.unit) + plan.change
        self._shown(plan.kind, station, Decimal(far).quantize(station.plan.resolution))
