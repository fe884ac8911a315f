"""Gauges and processes: studies, control charts, capability."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from api.calculations.forms import (
    MOST_READINGS,
    Answer,
    Data,
    Digits,
    Fields,
    Input,
    Level,
    Size,
    Unit,
    decided,
    number,
    optional,
)
from capture.quantity import Number
from capture.spec.model import Limits, Study
from capture.study import charts
from capture.study.analysis import analyse
from capture.study.capability import capability, performance, summary
from capture.study.plain import plain

Name = Annotated[str, Field(min_length=1, max_length=60, pattern=r"\S")]
Trials = Annotated[list[Digits], Field(min_length=1, max_length=25)]


class GaugeStudy(Input):
    unit: Unit
    readings: Annotated[
        dict[Name, Annotated[list[Trials], Field(min_length=1, max_length=100)]],
        Field(min_length=1, max_length=20, description="Appraiser → sample by sample → trials."),
    ]
    tolerance: Annotated[Size | None, Field(description="Width.")] = None
    references: Annotated[list[Digits], Field(max_length=100, default_factory=list)]
    level: Level = "0.95"
    spread: Annotated[Size, Field(description="s set against the tolerance.")] = "6"

    example: ClassVar[Data] = {
        "unit": "mm",
        "readings": {
            "A": [["10.001", "10.002"], ["10.012", "10.011"], ["9.991", "9.992"]],
            "B": [["10.003", "10.002"], ["10.013", "10.014"], ["9.993", "9.992"]],
        },
        "tolerance": "0.040",
        "references": ["10.000", "10.010", "9.990"],
    }

    def answer(self) -> Answer:
        rows = list(self.readings.values())
        samples, trials = len(rows[0]), len(rows[0][0])
        taken: dict[tuple[str, int, int], Number] = {}
        for appraiser, row in self.readings.items():
            if len(row) != samples or any(len(cell) != trials for cell in row):
                raise ValueError(
                    f"{appraiser} has other samples or trials than the first appraiser: everyone "
                    "measures every sample equally often"
                )
            for sample, cell in enumerate(row, 1):
                for trial, digits in enumerate(cell, 1):
                    taken[appraiser, sample, trial] = number(digits)
        result = analyse(
            self._study(samples, trials), taken, level=float(self.level), spread=float(self.spread)
        )
        for name in ("study", "unit"):
            del result[name]
        method = "By ranges and by analysis of variance, with confidence intervals."
        return Answer(self.unit, method, result, [])

    def _study(self, samples: int, trials: int) -> Study:
        return Study(
            id="study",
            title="",
            unit=self.unit,
            appraisers=tuple(self.readings),
            samples=samples,
            trials=trials,
            references=tuple(number(one) for one in self.references),
            lot="",
            tolerance=optional(self.tolerance),
            plausible=Limits(None, None),
            instruments=(),
        )


class Centres(Fields):
    """What charts of means are drawn from, where the readings themselves are not at hand."""

    grand_mean: Digits
    mean_scatter: Annotated[Size, Field(description="Mean range, or mean standard deviation.")]
    size: Annotated[int, Field(ge=2, le=25, description="Readings in a sample.")]


class Chart(Input):
    unit: Unit
    kind: Literal["mean-range", "mean-deviation", "individuals"]
    samples: Annotated[
        list[Annotated[list[Digits], Field(max_length=25)]],
        Field(
            max_length=1000, default_factory=list, description="In order of time, all of one size."
        ),
    ]
    summary: Annotated[
        Centres | None, Field(description="Instead of samples, of either chart of means.")
    ] = None
    values: Annotated[
        list[Digits],
        Field(
            max_length=MOST_READINGS,
            default_factory=list,
            description="Of individuals, in order of time.",
        ),
    ]

    example: ClassVar[Data] = {
        "unit": "mm",
        "kind": "mean-range",
        "samples": [["10.001", "10.003", "9.999"], ["10.002", "10.000", "10.004"]],
    }

    def answer(self) -> Answer:
        method = "Limits three standard errors from the centre, with computed constants."
        caution = "These limits tell the readings' own scatter; they are no limits of size."
        return Answer(self.unit, method, self._found(), [caution])

    def _found(self) -> Data:
        if decided(self.samples or None, self.values or None, self.summary) != 1:
            raise ValueError("give samples, values or a summary: one of the three")
        if self.summary is not None and self.kind != "individuals":
            result: Data = plain(self._limits(self.summary))
            return result
        found: Data = plain(self._charts())
        return found

    def _limits(self, of: Centres) -> charts.ChartLimits:
        mean, scatter = float(of.grand_mean), float(of.mean_scatter)
        if self.kind == "mean-deviation":
            return charts.mean_and_deviation_limits(mean, scatter, of.size)
        return charts.mean_and_range_limits(mean, scatter, of.size)

    def _charts(self) -> charts.Charts:
        if self.kind == "individuals":
            if not self.values:
                raise ValueError("a chart of individuals takes values")
            return charts.individuals([number(one) for one in self.values])
        if not self.samples:
            raise ValueError("a chart of means takes samples, or their summary")
        samples = [[number(one) for one in sample] for sample in self.samples]
        if self.kind == "mean-deviation":
            return charts.mean_and_deviation(samples)
        return charts.mean_and_range(samples)


class Moments(Fields):
    """What is known of readings that are not at hand."""

    n: Annotated[int, Field(ge=2, le=1_000_000)]
    mean: Digits
    standard_deviation: Size


class Capability(Input):
    unit: Unit
    samples: Annotated[
        list[Annotated[list[Digits], Field(min_length=1, max_length=1000)]],
        Field(max_length=1000, default_factory=list, description="In order of time."),
    ]
    summary: Annotated[Moments | None, Field(description="Instead of samples.")] = None
    lower: Digits | None = None
    upper: Digits | None = None
    target: Digits | None = None
    level: Level = "0.95"

    example: ClassVar[Data] = {
        "unit": "mm",
        "samples": [["10.001", "10.003", "9.999"], ["10.002", "10.000", "10.004"]],
        "lower": "9.980",
        "upper": "10.020",
        "target": "10.000",
    }

    def answer(self) -> Answer:
        if decided(self.samples or None, self.summary) != 1:
            raise ValueError("give samples, or a summary of them: one of the two")
        limits = Limits(optional(self.lower), optional(self.upper))
        target, level = optional(self.target), float(self.level)
        result: Data = {"performance": None, "capability": None}
        if self.summary is not None:
            known = self.summary
            mean, s = float(known.mean), float(known.standard_deviation)
            result["capability"] = plain(summary(known.n, mean, s, limits, target, level))
        else:
            samples = [[number(one) for one in sample] for sample in self.samples]
            values = [value for sample in samples for value in sample]
            if len(values) > MOST_READINGS:
                raise ValueError(f"give at most {MOST_READINGS} readings")
            result["performance"] = plain(performance(values, limits, target, level))
            if max(map(len, samples)) > 1:
                result["capability"] = plain(capability(samples, limits, target, level))
        method = (
            "Capability from the scatter inside samples, performance from all readings; intervals "
            "by χ², the noncentral t, and approximations for Cpk and Cpm."
        )
        return Answer(self.unit, method, result, [NORMAL])


NORMAL = (
    "Readings are taken as normally distributed and the process as under control; the gauge's own "
    "scatter is in them."
)
