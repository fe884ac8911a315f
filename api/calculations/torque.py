"""Torque: the trace of a pull, of a turning test, and a torque tool's check."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from api.calculations.forms import (
    Answer,
    Data,
    Digits,
    Input,
    Size,
    TorqueUnit,
    Word,
    maybe,
    number,
    shown,
)
from capture import tool_check
from capture.quantity import unit_name
from capture.spec.model import Limits
from capture.spec.model import ToolCheck as Check
from capture.study.plain import plain
from capture.trace.pull import LONGEST_RISE, SHORTEST_RISE, analyse_pull
from capture.trace.samples import Trace as Samples
from capture.trace.turning import analyse_turning

MOST_SAMPLES = 1_000_000
Column = Annotated[list[Digits], Field(max_length=MOST_SAMPLES)]


class Sampled(Input):
    """Samples of torque: at even intervals, or each with its time in seconds."""

    unit: TorqueUnit
    torque: Annotated[list[Digits], Field(min_length=3, max_length=MOST_SAMPLES)]
    interval_us: Annotated[int | None, Field(ge=1, le=10_000_000)] = None
    seconds: Column | None = None
    angle: Annotated[Column | None, Field(description="In degrees.")] = None

    def samples(self) -> Samples:
        if (self.interval_us is None) == (self.seconds is None):
            raise ValueError(
                "give interval_us (microseconds between samples) or seconds (one each)"
            )
        if self.seconds is not None:
            seconds = [float(one) for one in self.seconds]
        else:
            assert self.interval_us is not None
            seconds = [at * self.interval_us / 1e6 for at in range(len(self.torque))]
        angle = None if self.angle is None else [float(one) for one in self.angle]
        return Samples(seconds, [float(one) for one in self.torque], angle, unit_name(self.unit))


class Trace(Sampled):
    threshold: Annotated[Size | None, Field(description="No break is looked for below it.")] = None
    target: Annotated[Size | None, Field(description="The torque set.")] = None
    capacity: Annotated[Size | None, Field(description="The sensor's largest torque.")] = None
    click_expected: bool = True
    shortest_rise: Annotated[Size, Field(description="Seconds from 80 %.")] = str(SHORTEST_RISE)
    longest_rise: Size = str(LONGEST_RISE)

    example: ClassVar[Data] = {
        "unit": "N·m",
        "interval_us": 20_000,
        "torque": [
            *["0.0"] * 10,
            *[f"{torque}.0" for torque in range(0, 60, 1)],
            *["60.0", "45.2", "44.9", "43.8"],
            *[f"{torque}.0" for torque in range(42, -1, -3)],
        ],
        "target": "60",
    }

    def answer(self) -> Answer:
        given = (self.threshold, self.target, self.capacity)
        threshold, target, capacity = (None if one is None else float(one) for one in given)
        pull = analyse_pull(
            self.samples(),
            threshold=threshold,
            target=target,
            capacity=capacity,
            click_expected=self.click_expected,
            shortest_rise=float(self.shortest_rise),
            longest_rise=float(self.longest_rise),
        )
        result: Data = {"torque": pull.torque, "click": plain(pull.click), **plain(pull)}
        return Answer(pull.unit, CLICK, result, [])


CLICK = (
    "A click is a local maximum followed within 10 ms by a fall of a tenth of it that then stops; "
    "times of the rise as ISO 6789 gives them. The resting zero is taken off."
)


class Turning(Sampled):
    turns: Annotated[Size | None, Field(description="Made by the steady part.")] = None
    seconds_per_turn: Size | None = None

    example: ClassVar[Data] = {
        "unit": "N·m",
        "interval_us": 100_000,
        "torque": ["0.0", "0.0", "9.0", "18.0", "14.0", *["12.0", "12.4", "12.8", "12.4"] * 8],
        "turns": "2",
    }

    def answer(self) -> Answer:
        turns = None if self.turns is None else float(self.turns)
        each = None if self.seconds_per_turn is None else float(self.seconds_per_turn)
        found = analyse_turning(self.samples(), turns=turns, seconds_per_turn=each)
        method = (
            "Breakaway: the largest torque before it turns freely. Running torque over the steady "
            "part; ripple over one turn where turns are known. The resting zero is taken off."
        )
        result: Data = plain(found)
        return Answer(found.unit, method, result, [HANDS])


HANDS = "Keep hands out of the crankcase while the crank is turned."


class ToolCheck(Input):
    tool: Word
    unit: TorqueUnit
    maximum: Annotated[Size, Field(description="The tool's largest setting.")]
    points_percent: Annotated[
        list[Size], Field(min_length=1, max_length=20, description="Of the maximum.")
    ]
    permissible_deviation_percent: Size
    readings: Annotated[
        list[Annotated[list[Size], Field(max_length=100)]],
        Field(max_length=20, description="What the reference showed, point by point, ascending."),
    ]
    readings_wanted: Annotated[int, Field(ge=1, le=100, description="At each point.")]
    reference_expanded_percent: Annotated[Size | None, Field(description="U, relative.")] = None
    reference_coverage_factor: Size = "2"
    resolution: Annotated[Size | None, Field(description="The reference's step.")] = None

    example: ClassVar[Data] = {
        "tool": "click tool, 200 N·m",
        "unit": "N·m",
        "maximum": "200",
        "points_percent": ["20", "60", "100"],
        "permissible_deviation_percent": "4",
        "readings": [["40.2", "39.8", "40.1", "40.0", "39.9"]],
        "readings_wanted": 5,
        "reference_expanded_percent": "0.5",
    }

    def answer(self) -> Answer:
        check = self._check()
        found = tool_check.verify_tool(
            check,
            [[number(one) for one in point] for point in self.readings],
            reference_uncertainty_percent=_float(self.reference_expanded_percent),
            reference_coverage_factor=float(self.reference_coverage_factor),
            resolution=None if self.resolution is None else number(self.resolution),
        )
        result = {
            "conforming": found.conforming,
            "worst_percent": maybe(found.worst),
            "repeatability_percent": found.repeatability,
            "expanded_uncertainty_percent": found.expanded_uncertainty,
            "points": [_point(point, check) for point in found.points],
        }
        method = "100 × (setting − reference) / reference, each reading (ISO 6789-1); a tie is in."
        return Answer(check.unit, method, result, [tool_check.TEMPERATURE_NOTE])

    def _check(self) -> Check:
        points = tuple(number(one) for one in self.points_percent)
        if any(not 0 < one <= 100 for one in points) or len(set(points)) < len(points):
            raise ValueError("points are different percentages above 0, up to 100")
        return Check(
            id="check",
            title=self.tool,
            unit=unit_name(self.unit),
            tool=self.tool,
            maximum=number(self.maximum),
            points_percent=tuple(sorted(points)),
            readings=self.readings_wanted,
            preloads=0,
            permissible_deviation_percent=number(self.permissible_deviation_percent),
            plausible=Limits(None, None),
            instruments=(),
        )


def _point(point: tool_check.PointResult, check: Check) -> Data:
    limits = tool_check.limits(point.setting, check.permissible_deviation_percent)
    return {
        "setting": shown(point.setting),
        "lower": maybe(limits.lower),
        "upper": maybe(limits.upper),
        "readings": [shown(one) for one in point.readings],
        "deviations_percent": [shown(one) for one in point.deviations],
        "within": list(point.within),
        "mean_deviation_percent": shown(point.mean_deviation) if point.readings else None,
        "spread_percent": shown(point.spread) if point.readings else None,
        "repeatability_percent": point.repeatability,
        "expanded_uncertainty_percent": point.expanded_uncertainty,
        "complete": point.complete,
    }


def _float(digits: str | None) -> float | None:
    return None if digits is None else float(digits)
