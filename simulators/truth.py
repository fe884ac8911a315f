"""What is really under the gauge at a step: sizes that belong to pieces, and follow from others.

A piece keeps its sizes wherever it is fitted. What depends on a pair (a ring's gap on the bore it
stands in, a bearing's bore on housing and shells) follows from the true sizes of both, so that
nothing the service computes from several readings can contradict itself.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from simulators.gauges import scale
from simulators.plan import Turning
from simulators.workshop import Follow, Workshop

Step = dict[str, Any]
"""A step as the service's JSON has it."""


class NothingToTurn(LookupError):
    """The scenario does not say what torque turns the assembly at a test."""


class Truth:
    """The true value at every step. ``fitted`` is which piece stands where."""

    def __init__(self, workshop: Workshop, turnings: Sequence[Turning]) -> None:
        self._workshop = workshop
        self._turnings = {turning.test: turning for turning in turnings}
        self._fitted: dict[tuple[str, int], str] = {}

    def fit(self, pieces: Iterable[Mapping[str, Any]]) -> None:
        """Takes note of which piece stands where: ``part``, ``number`` and ``piece`` of each."""
        self._fitted = {(one["part"], one["number"]): one["piece"] for one in pieces}

    def piece(self, part: str, number: int) -> str:
        """The piece at a position; the position's own name where none was assigned."""
        return self._fitted.get((part, number), f"{part}-{number}")

    def size(self, characteristic: str, part: str, number: int, point: str) -> float:
        """The true size at a point of whatever piece stands there, in the workshop's own unit."""
        piece = self.piece(part, number)
        feature = self._workshop.feature(characteristic)
        return self._workshop.true_size(characteristic, piece, point) + sum(
            each.factor * (self._other(each, piece, number) - each.base) for each in feature.follows
        )

    def _other(self, follow: Follow, piece: str, number: int) -> float:
        if follow.part is None:
            return self._of(follow, piece)
        first = (number - 1) * follow.per + 1
        sizes = [
            self._of(follow, self.piece(follow.part, place))
            for place in range(first, first + follow.per)
        ]
        return sum(sizes) / len(sizes)

    def _of(self, follow: Follow, piece: str) -> float:
        if follow.point is None:
            return self._workshop.mean_size(follow.characteristic, piece)
        return self._workshop.true_size(follow.characteristic, piece, follow.point)

    def turning_torque(self, test: str, number: int) -> float:
        """What turns the assembly at the ``number``-th time of a turning test, N·m."""
        turning = self._turnings.get(test) or self._turnings.get(test.removeprefix("turn-"))
        if turning is None:
            raise NothingToTurn(
                f"scenario.toml has no [[turning]] for the test '{test}'. Add one with its torque."
            )
        name = f"{self._workshop.lot}/{turning.test}" + (f"/{number}" if number > 1 else "")
        drawn = random.Random(name).uniform(-turning.spread, turning.spread)
        return turning.torque + turning.each * (number - 1) + drawn


def wanted(step: Step) -> float:
    """What a pull aims at: the target, or between the limits; in the workshop's own unit."""
    given = [step.get("target")]
    if given[0] is None:
        given = [step.get("lower"), step.get("upper")]
    numbers = [float(each) for each in given if each is not None]
    if not numbers:
        raise NothingToTurn(f"Step {step['id']} says neither a target nor limits.")
    return sum(numbers) / len(numbers) * scale(step["unit"])
