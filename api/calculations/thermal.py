"""A size brought to 20 °C (ISO 1)."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, ClassVar

from pydantic import AfterValidator, Field

from api.calculations.forms import (
    Answer,
    Data,
    Digits,
    Fields,
    Input,
    LengthUnit,
    Size,
    TemperatureUnit,
    decided,
    in_unit,
    number,
    optional,
    refused,
    shown,
)
from capture import temperature
from capture.spec.model import Limits
from capture.temperature import Unsure, Warmth
from capture.uncertainty import combine

LEAST, MOST = Decimal("0.1"), Decimal(1000)
"""What a coefficient of any metal or plastic lies well inside, in 10⁻⁶ per °C: past them another
unit was meant. No source: a check for slips, not a property of a material."""


def _per_million(digits: str) -> str:
    if LEAST <= number(digits) <= MOST:
        return digits
    raise refused(
        f"A coefficient of {digits} is evidently not in 10⁻⁶ per °C, where it lies between {LEAST} "
        f"and {MOST}.",
        "Write it in 10⁻⁶ per °C: 11.5 for 0.0000115 per °C; one per °F times 1.8.",
    )


class Warm(Fields):
    """How warm something is, and how it expands."""

    temperature: Digits
    unit: Annotated[TemperatureUnit, Field(description="°C or °F.")] = "°C"
    coefficient: Annotated[
        Size, AfterValidator(_per_million), Field(description="10⁻⁶ per °C: 0.1 to 1000.")
    ]
    temperature_uncertainty: Annotated[Size | None, Field(description="Standard, in °C.")] = None
    coefficient_uncertainty: Annotated[Size | None, Field(description="Standard, 10⁻⁶/°C.")] = None

    def warmth(self) -> Warmth:
        celsius = in_unit(self.temperature, self.unit, "°C")
        return Warmth(celsius, number(self.coefficient))

    def unsure(self) -> Unsure:
        given = (self.temperature_uncertainty, self.coefficient_uncertainty)
        return Unsure(*(None if one is None else float(one) for one in given))


class ThermalCorrection(Input):
    unit: LengthUnit
    size: Annotated[Size | None, Field(description="As an absolute gauge shows it.")] = None
    standard: Annotated[Size | None, Field(description="Of a comparative gauge, at 20 °C.")] = None
    deviation: Digits | None = None
    part: Warm
    scale: Annotated[
        Warm | None, Field(description="The gauge's scale, or its setting standard.")
    ] = None
    lower: Digits | None = None
    upper: Digits | None = None

    example: ClassVar[Data] = {
        "unit": "mm",
        "size": "500.035",
        "part": {"temperature": "23.7", "coefficient": "11.7", "temperature_uncertainty": "0.2"},
    }

    def answer(self) -> Answer:
        part, scale = self.part.warmth(), None if self.scale is None else self.scale.warmth()
        found, shown_size = self._corrected(part, scale)
        unsure = self.part.unsure()
        of_scale = temperature.NOT_STATED if self.scale is None else self.scale.unsure()
        lines = temperature.contributions(number(shown_size), part, scale, unsure, of_scale)
        budget = combine(lines)
        result = {
            "size_at_20": shown(found.value),
            "uncorrected": shown(found.uncorrected),
            "correction": shown(found.correction),
            "standard_uncertainty": budget.standard_uncertainty,
            "lines": [
                {"name": one.name, "standard_uncertainty": one.standard_uncertainty}
                for one in lines
            ],
        }
        limits = Limits(optional(self.lower), optional(self.upper))
        cautions = temperature.warnings(found, part, scale, limits, unsure, of_scale)
        method = "Exact form of 1 + α·(t − 20) for part and scale; linear expansion."
        return Answer(self.unit, method, result, list(cautions))

    def _corrected(self, part: Warmth, scale: Warmth | None) -> tuple[temperature.Correction, str]:
        if self.size is not None and decided(self.standard, self.deviation) == 0:
            return temperature.corrected(number(self.size), part, scale), self.size
        if self.size is None and self.standard is not None and self.deviation is not None:
            standard, deviation = number(self.standard), number(self.deviation)
            return (
                temperature.corrected_comparative(standard, deviation, part, scale),
                self.standard,
            )
        raise ValueError("give a size, or a standard with the deviation from it")
