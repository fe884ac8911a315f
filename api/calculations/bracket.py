"""A size known only between two values."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from api.calculations.conformity import Coverage, Expanded
from api.calculations.forms import (
    Answer,
    Data,
    Digits,
    Input,
    Size,
    Unit,
    maybe,
    number,
    optional,
    shown,
)
from capture import bracket as brackets
from capture.check import gate
from capture.quantity import Number, exact
from capture.spec.model import Decision, Limits, Rule


class Bracket(Input):
    unit: Unit
    lower: Annotated[Digits | None, Field(description="Goes, or clicked without turning.")] = None
    upper: Annotated[Digits | None, Field(description="Does not go, or turned.")] = None
    by: Literal["leaves", "settings", "either"] = "either"
    lower_limit: Digits | None = None
    upper_limit: Digits | None = None
    rule: Literal["simple", "guarded", "iso14253"] = "simple"
    expanded_uncertainty: Annotated[
        Expanded | None, Field(description="Of the leaves or the tool.")
    ] = None
    coverage_factor: Coverage = "2"
    tool_deviation_percent: Annotated[
        Size | None, Field(description="± of the value, any as likely as another.")
    ] = None

    example: ClassVar[Data] = {
        "unit": "N·m",
        "lower": "18",
        "upper": "20",
        "by": "settings",
        "upper_limit": "19.5",
        "tool_deviation_percent": "4",
    }

    def answer(self) -> Answer:
        found = brackets.checked(
            brackets.Bracket(optional(self.lower), optional(self.upper), brackets.By(self.by))
        )
        if found.lower is None and found.upper is None:
            raise ValueError("a bracket needs one end at the least: give lower or upper")
        result: Data = {"estimate": self._estimate(found)}
        limits = Limits(optional(self.lower_limit), optional(self.upper_limit))
        decision = Decision(Rule(self.rule), coverage_factor=number(self.coverage_factor))
        made = gate(limits, decision, optional(self.expanded_uncertainty))
        result["verdict"] = brackets.judge(found, made).value
        advice = brackets.advice(found, made, self.unit)
        result["next"] = None if advice is None else maybe(advice.value)
        result["advice"] = None if advice is None else advice.sentence
        method = "The whole interval inside the limits conforms, wholly outside does not."
        return Answer(self.unit, method, result, list(made.notes))

    def _estimate(self, found: brackets.Bracket) -> Data | None:
        if found.lower is None or found.upper is None:
            return None
        middle = brackets.estimate(found)
        deviations: list[Number] = []
        if self.tool_deviation_percent is not None:
            share = Fraction(self.tool_deviation_percent) / 100
            deviations.append(exact(abs(Fraction(middle.mid)) * share))
        return {
            "middle": shown(middle.mid),
            "half_width": shown(middle.half_width),
            "standard_uncertainty": middle.u,
            "with_the_tool": brackets.combined(middle, *deviations),
        }
