"""Uncertainty: a budget of lines, and the propagation through a formula."""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal
from typing import Annotated, ClassVar, Final, Literal

from pydantic import Field

from api.calculations.forms import (
    Answer,
    AnyUnit,
    Data,
    Digits,
    Fields,
    Input,
    Level,
    Size,
    Unit,
    Word,
    number,
    shown,
)
from capture import propagation, type_b
from capture.formula.dimension import check
from capture.formula.parse import parse
from capture.modelled import inputs_of, model_of
from capture.study.moments import moments
from capture.uncertainty import Budget, Contribution, combine, expand, lines, student_factor

MOST_LINES = 200
MOST_INPUTS = 20
MOST_DRAWS = 4_000_000
"""Trials times inputs."""


class Line(Fields):
    """One source of uncertainty: its size by ``value``, or repeats by ``readings``."""

    name: Word
    kind: Literal[
        "standard", "expanded", "rectangular", "triangular", "arcsine", "resolution", "repeats"
    ]
    value: Annotated[
        Size | None, Field(description="u, U, a half width, or a display step, by the kind.")
    ] = None
    coverage_factor: Annotated[Size | None, Field(description="Of an expanded one.")] = None
    readings: Annotated[list[Digits], Field(max_length=10_000, default_factory=list)]
    sensitivity: Digits = "1"
    degrees_of_freedom: Annotated[Size | None, Field(description="Infinitely many if none.")] = None

    def contribution(self) -> Contribution:
        u, degrees = self._own()
        if self.degrees_of_freedom is not None:
            degrees = float(self.degrees_of_freedom)
        return Contribution(self.name, abs(float(self.sensitivity)) * u, degrees)

    def _own(self) -> tuple[float, float]:
        if self.kind == "repeats":
            count = len(self.readings)
            if count < 2 or self.value is not None:
                raise ValueError(f"{self.name}: repeats take two readings or more, and no value")
            s = moments([number(one) for one in self.readings]).standard_deviation
            return s / math.sqrt(count), count - 1.0
        if self.value is None or self.readings:
            raise ValueError(f"{self.name}: this kind takes a value, and no readings")
        value = float(self.value)
        if self.kind == "expanded":
            if self.coverage_factor is None:
                raise ValueError(f"{self.name}: an expanded uncertainty takes its coverage factor")
            return type_b.certificate(value, float(self.coverage_factor)), math.inf
        return _SHAPES[self.kind](value), math.inf


_SHAPES: Final[dict[str, Callable[[float], float]]] = {
    "standard": float,
    "rectangular": type_b.rectangular,
    "triangular": type_b.triangular,
    "arcsine": type_b.arcsine,
    "resolution": type_b.step,
}


def told(budget: Budget, k: Decimal) -> Data:
    """A budget line by line, and what it comes to."""
    degrees = budget.degrees_of_freedom
    return {
        "lines": [line._asdict() for line in lines(budget, k)],
        "standard_uncertainty": budget.standard_uncertainty,
        "degrees_of_freedom": None if math.isinf(degrees) else degrees,
        "coverage_factor": float(k),
        "expanded_uncertainty": shown(expand(budget.standard_uncertainty, k)),
    }


class UncertaintyBudget(Input):
    unit: Unit
    lines: Annotated[list[Line], Field(min_length=1, max_length=MOST_LINES)]
    coverage_factor: Size | None = None
    probability: Annotated[
        Level | None, Field(description="Instead of the factor: Student's t for it.")
    ] = None

    example: ClassVar[Data] = {
        "unit": "mm",
        "lines": [
            {"name": "calibration", "kind": "expanded", "value": "0.002", "coverage_factor": "2"},
            {"name": "resolution", "kind": "resolution", "value": "0.001"},
            {"name": "repeats", "kind": "repeats", "readings": ["86.011", "86.012", "86.010"]},
        ],
        "probability": "0.95",
    }

    def answer(self) -> Answer:
        if (self.coverage_factor is None) == (self.probability is None):
            raise ValueError("give a coverage factor, or a probability to take it for")
        budget = combine(line.contribution() for line in self.lines)
        if self.coverage_factor is not None:
            k = number(self.coverage_factor)
        else:
            assert self.probability is not None
            factor = student_factor(float(self.probability), budget.degrees_of_freedom)
            k = Decimal(repr(factor))
        method = (
            "Root sum of squares of independent lines (JCGM 100, 5.1.2), degrees of freedom by "
            "Welch–Satterthwaite (G.4.1); U is rounded up to two digits."
        )
        caution = "Lines are taken as independent: what two of them share must be one line."
        return Answer(self.unit, method, told(budget, k), [caution])


class Quantity(Fields):
    """A quantity that goes into the formula."""

    name: Annotated[Word, Field(description="As in the formula, such as bore or bore[top].")]
    value: Digits
    unit: Annotated[AnyUnit, Field(description="1 for a bare number.")]
    standard_uncertainty: Size
    shape: Literal["normal", "rectangular", "triangular", "arcsine"] = "normal"
    degrees_of_freedom: Size | None = None

    def made(self) -> propagation.Input:
        degrees = math.inf if self.degrees_of_freedom is None else float(self.degrees_of_freedom)
        u = float(self.standard_uncertainty)
        shape = propagation.Shape(self.shape)
        return propagation.Input(self.name, float(self.value), u, shape, degrees)


class Propagation(Input):
    formula: Annotated[str, Field(min_length=1, max_length=2000)]
    unit: Annotated[AnyUnit, Field(description="Of the value; 1 for a ratio.")]
    inputs: Annotated[list[Quantity], Field(min_length=1, max_length=MOST_INPUTS)]
    probability: Level = "0.95"
    trials: Annotated[int, Field(ge=1000, le=1_000_000)] = propagation.TRIALS
    word: Annotated[Word, Field(description="The draws follow from it.")] = "draws"

    example: ClassVar[Data] = {
        "formula": "housing - upper - lower - journal",
        "unit": "mm",
        "inputs": [
            {"name": "housing", "value": "60.000", "unit": "mm", "standard_uncertainty": "0.001"},
            {"name": "upper", "value": "1.985", "unit": "mm", "standard_uncertainty": "0.001"},
            {"name": "lower", "value": "1.985", "unit": "mm", "standard_uncertainty": "0.001"},
            {"name": "journal", "value": "55.985", "unit": "mm", "standard_uncertainty": "0.001"},
        ],
    }

    def answer(self) -> Answer:
        if self.trials * len(self.inputs) > MOST_DRAWS:
            raise ValueError(f"give fewer trials, or inputs: together at most {MOST_DRAWS} draws")
        formula = parse(self.formula)
        by_name = {one.name: one for one in self.inputs}
        order = inputs_of(formula)
        self._complete(order, by_name)
        units = self._units()
        check(formula, units.__getitem__, self.unit)
        model = model_of(formula, units.__getitem__, self.unit)
        inputs = [by_name[name].made() for name in order]
        first = propagation.first_order(model, inputs)
        p = float(self.probability)
        k = student_factor(p, first.budget.degrees_of_freedom)
        drawn = propagation.monte_carlo(model, inputs, self.word, self.trials, p)
        result = {
            "first_order": {
                "value": first.value,
                "sensitivities": dict(zip(order, first.sensitivities, strict=True)),
                **told(first.budget, Decimal(repr(k))),
            },
            "drawn": drawn._asdict(),
            "agree": propagation.agrees(first, drawn, k),
        }
        method = "Law of propagation (JCGM 100, 5.1) and drawing (JCGM 101, 7)."
        return Answer(self.unit, method, result, [INDEPENDENT])

    def _complete(self, order: tuple[str, ...], by_name: dict[str, Quantity]) -> None:
        if len(by_name) < len(self.inputs):
            raise ValueError("an input is given twice: give each name once")
        if not order:
            raise ValueError("the formula names no input, so that nothing is uncertain")
        if missing := [name for name in order if name not in by_name]:
            raise ValueError(f"the formula uses what is not among the inputs: {', '.join(missing)}")
        if spare := [name for name in by_name if name not in order]:
            raise ValueError(f"the formula does not use {', '.join(spare)}: leave it out")

    def _units(self) -> dict[str, str]:
        """By name without point, as the formula's own checks ask for it."""
        found: dict[str, str] = {}
        for one in self.inputs:
            name = one.name.partition("[")[0]
            if found.setdefault(name, one.unit) != one.unit:
                raise ValueError(f"the points of {name} are in different units: use one")
        return found


INDEPENDENT = "Inputs are taken as independent; what is shared by two must be an input of its own."
