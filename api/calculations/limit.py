"""Limits that follow from a size, what a tolerance is worth, and units."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from api.calculations.forms import (
    Answer,
    Data,
    Digits,
    Input,
    KnownUnit,
    LengthUnit,
    Size,
    in_unit,
    maybe,
    number,
    optional,
    shown,
)
from capture import grades, shapes
from capture.errors import RequestError
from capture.quantity import convert, dimension, unit_name

FROM_THE_MAKER = "Factors and rates come from the engine or ring maker; none is set here."


class RingGap(Input):
    unit: LengthUnit
    bore: Annotated[list[Size], Field(min_length=1, max_length=100, description="Its sizes.")]
    lower_factor: Size | None = None
    upper_factor: Size | None = None
    gap: Size | None = None
    bore_change: Annotated[
        Digits | None, Field(description="What the gap changes by when the bore changes by this.")
    ] = None

    example: ClassVar[Data] = {
        "unit": "mm",
        "bore": ["86.010", "86.014"],
        "lower_factor": "0.004",
        "upper_factor": "0.006",
        "gap": "0.40",
    }

    def answer(self) -> Answer:
        bore = shapes.mean([number(one) for one in self.bore])
        factors = optional(self.lower_factor), optional(self.upper_factor)
        limits = shapes.limits_by_factor(bore, *factors)
        result: Data = {
            "bore": shown(bore),
            "lower_limit": maybe(limits.lower),
            "upper_limit": maybe(limits.upper),
        }
        if self.gap is not None:
            gap = number(self.gap)
            above = limits.lower is None or gap >= limits.lower
            result["gap"] = shown(gap)
            result["within"] = above and (limits.upper is None or gap <= limits.upper)
        if self.bore_change is not None:
            result["gap_change"] = shown(shapes.gap_change(number(self.bore_change)))
        method = "Mean bore times the factors; the gap changes by π times the change of the bore."
        return Answer(self.unit, method, result, [FROM_THE_MAKER, NO_UNCERTAINTY])


NO_UNCERTAINTY = "Limits as they stand: no uncertainty was taken into account."


class WearLimit(Input):
    unit: LengthUnit
    size: Size
    rate: Annotated[Size, Field(description="Per unit of the size, as 0.001 in per inch of bore.")]
    added: Size = "0"

    example: ClassVar[Data] = {"unit": "in", "size": "4.000", "rate": "0.001"}

    def answer(self) -> Answer:
        limit = shapes.limit_by_rate(number(self.size), number(self.rate), number(self.added))
        return Answer(
            self.unit, "Size times rate, plus what is added.", {"limit": shown(limit)},
            [FROM_THE_MAKER],
        )  # fmt: skip


class ToleranceGrade(Input):
    unit: LengthUnit
    size: Size
    width: Annotated[Size | None, Field(description="Of a tolerance, in the unit.")] = None
    grade: Annotated[int | None, Field(ge=5, le=18)] = None

    example: ClassVar[Data] = {"unit": "mm", "size": "86", "width": "0.035", "grade": 6}

    def answer(self) -> Answer:
        if self.width is None and self.grade is None:
            raise ValueError("give a width, a grade, or both")
        size = in_unit(self.size, self.unit, "mm")
        result: Data = {"size_mm": shown(size)}
        if self.width is not None:
            width = in_unit(self.width, self.unit, "µm")
            nearest = grades.nearest_grade(size, width)
            result |= {"width_um": shown(width)}
            result["nearest_grade"] = None if nearest is None else f"IT{nearest}"
        if self.grade is not None:
            result["grade"] = f"IT{self.grade}"
            result["grade_width_um"] = shown(grades.tolerance(size, self.grade))
        method = "Formula of ISO 286-1; the printed tables are rounded from it and govern."
        caution = "A grade describes a tolerance that a drawing gives; it is no limit of an engine."
        return Answer(self.unit, method, result, [caution])


class Convert(Input):
    value: Digits
    unit: KnownUnit
    to: KnownUnit

    example: ClassVar[Data] = {"value": "65", "unit": "lbf·ft", "to": "N·m"}

    def answer(self) -> Answer:
        measured = dimension(self.unit)
        if (wanted := dimension(self.to)) != measured:
            raise RequestError(
                f"to: {self.to} measures {wanted} and {self.unit} measures {measured}: one cannot "
                "be converted to the other.",
                mend=f"Give a unit of {measured}, or correct the unit of the value.",
            )
        value = convert(number(self.value), self.unit, self.to)
        result = {"value": shown(value), "of": measured}
        return Answer(unit_name(self.to), "Exact by the units' definitions.", result, [])
