"""Mistakes on purpose, each made once where the scenario says, and how each is mended."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import Any

from simulators import faults
from simulators.handiwork import Handiwork, Step, identity
from simulators.press import Press
from simulators.scenario import Mistake
from simulators.workbench import Station

Json = dict[str, Any]

INCH_RESOLUTION = {"0.001": Decimal("0.00005"), "0.01": Decimal("0.0005")}
"""What a mm display's resolution becomes when its inch key is pressed."""


class Mishaps:
    """The mistakes still to be made."""

    def __init__(self, press: Press, hand: Handiwork, mistakes: Sequence[Mistake]) -> None:
        self._press = press
        self._hand = hand
        self._left = list(mistakes)
        self._makers: dict[str, Callable[[Mistake, Station, Step, str], None]] = {
            "double-press": self._double_press,
            "wrong-unit": self._wrong_unit,
            "wrong-cylinder": self._wrong_cylinder,
            "wrong-part": self._wrong_part,
            "unset-gauge": self._unset_gauge,
            "noise": self._noise,
            "split": self._split,
            "merge": self._merge,
            "stall": self._stall,
            "vanish": self._vanish,
        }

    @property
    def left(self) -> list[str]:
        """Kinds of the mistakes that found no step to fit."""
        return [mistake.kind for mistake in self._left]

    def happens_before_setting(self, station: Station, step: Step, build: str) -> bool:
        """The one mistake that must come before a comparative gauge is set: not setting it."""
        return self._happens(station, step, build, lambda each: each.kind == "unset-gauge")

    def happens(self, station: Station, step: Step, build: str) -> bool:
        """Makes the mistake that is due at this step, mends it, and says whether there was one."""
        return self._happens(station, step, build, lambda each: each.kind != "unset-gauge")

    def _happens(
        self, station: Station, step: Step, build: str, which: Callable[[Mistake], bool]
    ) -> bool:
        due = next((each for each in self._left if which(each) and _fits(each, step)), None)
        if due is None:
            return False
        self._left.remove(due)
        self._press.tally.mistakes.append(due.kind)
        self._press.report({"event": "mistake", "kind": due.kind, "step": step["id"]})
        self._makers[due.kind](due, station, step, build)
        return True

    # of the line: the reading arrives all the same ----------------------------------------------

    def _send(
        self,
        station: Station,
        step: Step,
        shape: Callable[[bytes], Sequence[faults.Chunk]],
        copies: int = 1,
    ) -> list[Json]:
        value = self._hand.indication(station, step)
        return self._press.send(station, value, station.plan.unit, shape, copies)

    def _noise(self, _: Mistake, station: Station, step: Step, build: str) -> None:
        self._press.bench.make_noise(station)
        self._send(station, step, faults.whole)

    def _split(self, _: Mistake, station: Station, step: Step, build: str) -> None:
        self._send(station, step, faults.split)

    def _stall(self, _: Mistake, station: Station, step: Step, build: str) -> None:
        self._send(station, step, faults.stalled)

    def _double_press(self, _: Mistake, station: Station, step: Step, build: str) -> None:
        second = self._send(station, step, faults.repeated, copies=2)[1]
        self._press.void(second, "SEND was pressed twice.")

    def _merge(self, _: Mistake, station: Station, step: Step, build: str) -> None:
        following = self._following(step, build)
        first = self._hand.indication(station, step)
        second = None if following is None else self._hand.indication(station, following)
        if second is None or second == first:
            # Nothing to merge with that would not look like a repeat: an ordinary press.
            self._press.send(station, first, station.plan.unit, faults.whole)
        else:
            self._press.send_merged(station, (first, second), station.plan.unit)

    def _following(self, step: Step, build: str) -> Step | None:
        """The step after this one, if it measures the same kind of thing."""
        steps: list[Step] = self._press.client.get(f"/v1/builds/{build}/steps")["steps"]
        ids = [each["id"] for each in steps]
        place = ids.index(step["id"]) + 1
        if place == len(steps) or steps[place]["operation"] != step["operation"]:
            return None
        return {**step, **steps[place]}

    def _vanish(self, _: Mistake, station: Station, step: Step, build: str) -> None:
        assert station.cable is not None
        station.cable.vanish()
        self._press.ready(station.plan.id, wanted=False)
        self._press.report({"event": "vanished", "instrument": station.plan.id})
        station.cable.plug_in()
        self._press.ready(station.plan.id)
        self._press.report({"event": "back", "instrument": station.plan.id})
        self._send(station, step, faults.whole)

    # of the hand: the step stays open and is done again -----------------------------------------

    def _unset_gauge(self, plan: Mistake, station: Station, step: Step, build: str) -> None:
        (reading, *_) = self._send(station, step, faults.whole)
        self._press.void(reading, "The gauge had not been set on its standard.")

    def _wrong_unit(self, plan: Mistake, station: Station, step: Step, build: str) -> None:
        resolution = INCH_RESOLUTION.get(format(station.plan.resolution, "f"), Decimal("0.0001"))
        shown = self._hand.measured(
            station,
            step["characteristic"],
            identity(step),
            step.get("point") or "",
            unit="in",
            resolution=resolution,
        )
        (reading, *_) = self._press.send(station, shown, "in", faults.whole)
        self._press.void(reading, "The gauge stood on inch; set back to mm and measured again.")

    def _wrong_cylinder(self, plan: Mistake, station: Station, step: Step, build: str) -> None:
        meant = {**step, "number": plan.measures_number, "piece": None}
        value = self._hand.indication(station, meant)
        (reading, *_) = self._press.send(station, value, station.plan.unit, faults.whole)
        operation, _, *rest = step["id"].split("/")
        right = "/".join((operation, str(plan.measures_number), *rest))
        self._move(reading, build, right, f"This was {step['part']} {plan.measures_number}.")

    def _wrong_part(self, plan: Mistake, station: Station, step: Step, build: str) -> None:
        assert plan.measures is not None, "scenario.toml: a wrong-part mistake needs 'measures'"
        meant = self._step_of(plan, step, build)
        other = self._hand.station(meant)
        value = self._hand.indication(other, meant)
        (reading, *_) = self._press.send(other, value, other.plan.unit, faults.whole)
        self._move(reading, build, meant["id"], f"This was {plan.measures} {meant['number']}.")

    def _step_of(self, plan: Mistake, step: Step, build: str) -> Step:
        """The step really measured, like the present one in what the list does not say of it."""
        assert plan.measures is not None
        steps: list[Step] = self._press.client.get(f"/v1/builds/{build}/steps")["steps"]
        found = next(
            each
            for each in steps
            if each["characteristic"] == plan.measures
            and each["number"] == plan.measures_number
            and (each.get("point") or "") == plan.measures_point
        )
        size = self._hand.workshop.feature(plan.measures).size
        return {**step, **found, "piece": None, "nominal_size": str(size), "unit": "mm"}

    def _move(self, reading: Json, build: str, step: str, reason: str) -> None:
        """To the step it belongs to; taken out of the count if it cannot answer that one."""
        if not self._press.place(reading, build, step, reason):
            self._press.void(reading, reason)


def _fits(mistake: Mistake, step: Step) -> bool:
    names = (None, step["operation"], step.get("characteristic"))
    of_operation = str(step["operation"]).partition("-")[2]
    return (
        (mistake.about in names or mistake.about == of_operation)
        and mistake.number in (None, step["number"])
        and mistake.point in (None, step.get("point") or "")
    )
