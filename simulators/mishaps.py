"""Mistakes on purpose, each made once where the scenario says; and those of the line.

After a mistake of the line (noise, a split or merged message, a bouncing button, a plug that comes
out) the reading arrives all the same."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from simulators import faults
from simulators.handiwork import Handiwork
from simulators.plan import Mistake
from simulators.press import Press
from simulators.slips import Slips
from simulators.truth import Step
from simulators.workbench import Station

Json = dict[str, Any]

BEFORE_SETTING = ("unset-gauge", "wrong-standard", "extension-left-out")
"""Mistakes that must come before the gauge is made ready, for they are in making it ready."""


class Mishaps:
    """The mistakes still to be made: those of the line here, those of the hand in ``Slips``."""

    def __init__(self, press: Press, hand: Handiwork, mistakes: Sequence[Mistake]) -> None:
        self._press = press
        self._hand = hand
        self._left = list(mistakes)
        slips = Slips(press, hand)
        self._makers: dict[str, Callable[[Mistake, Station, Step, str], None]] = {
            **slips.makers,
            "double-press": self._double_press,
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
        """The same for mistakes in making a gauge ready."""
        return self._happens(station, step, build, lambda each: each.kind in BEFORE_SETTING)

    def happens(self, station: Station, step: Step, build: str) -> bool:
        """Makes the mistake that is due at this step, mends it, and says whether there was one."""
        return self._happens(station, step, build, lambda each: each.kind not in BEFORE_SETTING)

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
        self._press.questioned("double-press", second)
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


def _fits(mistake: Mistake, step: Step) -> bool:
    names = (None, step["operation"], step.get("characteristic"))
    of_operation = str(step["operation"]).partition("-")[2]
    return (
        (mistake.about in names or mistake.about == of_operation)
        and mistake.number in (None, step["number"])
        and mistake.point in (None, step.get("point") or "")
    )
