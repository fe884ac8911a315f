"""Volumes of a cylinder and compression ratio."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from api.calculations.forms import (
    Answer,
    Data,
    Digits,
    Fields,
    Input,
    LengthUnit,
    Size,
    VolumeUnit,
    number,
    shown,
)
from capture import volumes


class Length(Fields):
    """In any unit of length."""

    value: Digits
    unit: LengthUnit

    def made(self) -> volumes.Amount:
        return volumes.Amount(number(self.value), self.unit)


class Volume(Fields):
    """In any unit of volume."""

    value: Digits
    unit: VolumeUnit

    def made(self) -> volumes.Amount:
        return volumes.Amount(number(self.value), self.unit)


Cylinders = Annotated[int, Field(ge=1, le=100)]


class Displacement(Input):
    bore: Length
    stroke: Length
    cylinders: Cylinders

    example: ClassVar[Data] = {
        "bore": {"value": "4", "unit": "in"},
        "stroke": {"value": "4.0", "unit": "in"},
        "cylinders": 6,
    }

    def answer(self) -> Answer:
        bore, stroke = self.bore.made(), self.stroke.made()
        result = {
            "swept": shown(volumes.swept(bore, stroke)),
            "displacement": shown(volumes.displacement(bore, stroke, self.cylinders)),
        }
        return Answer("cm³", "π/4 · bore² · stroke, exact conversions.", result, [])


class CompressionRatio(Input):
    bore: Length
    stroke: Length
    chamber: Volume
    deck_clearance: Annotated[Length, Field(description="Negative where the piston stands out.")]
    gasket_bore: Length
    gasket_thickness: Annotated[Length, Field(description="Compressed.")]
    crown: Annotated[Volume, Field(description="A dome is positive, a dish negative.")]
    land_diameter: Length | None = None
    land_height: Length | None = None
    wanted_ratio: Size | None = None

    example: ClassVar[Data] = {
        "bore": {"value": "86.0", "unit": "mm"},
        "stroke": {"value": "80.0", "unit": "mm"},
        "chamber": {"value": "46.0", "unit": "cm³"},
        "deck_clearance": {"value": "0.010", "unit": "in"},
        "gasket_bore": {"value": "87.0", "unit": "mm"},
        "gasket_thickness": {"value": "1.2", "unit": "mm"},
        "crown": {"value": "-4.0", "unit": "cm³"},
        "wanted_ratio": "10",
    }

    def answer(self) -> Answer:
        space = volumes.Space(
            self.bore.made(), self.stroke.made(), self.chamber.made(), self.deck_clearance.made(),
            self.gasket_bore.made(), self.gasket_thickness.made(), self.crown.made(),
            None if self.land_diameter is None else self.land_diameter.made(),
            None if self.land_height is None else self.land_height.made(),
        )  # fmt: skip
        found = volumes.volumes(space)._asdict()
        result: Data = {name: shown(value) for name, value in found.items()}
        if self.wanted_ratio is not None:
            ratio = number(self.wanted_ratio)
            for name, wanted in (
                ("chamber_for_it", volumes.chamber_for_ratio),
                ("crown_for_it", volumes.crown_for_ratio),
            ):
                result[name] = shown(wanted(space, ratio))
        method = "(swept + clearance volume) / clearance volume, at top dead centre."
        return Answer("cm³", method, result, [FUEL])


FUEL = "What ratio an engine and its fuel bear is the engine maker's to say."
