"""Threaded fasteners: stress area, preload, and a torque tool with an offset extension."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Annotated, ClassVar, Literal

from pydantic import AfterValidator, Field

from api.calculations.forms import (
    Answer,
    Data,
    Digits,
    ForceUnit,
    Input,
    LengthUnit,
    Size,
    TorqueUnit,
    Word,
    decided,
    in_unit,
    number,
    optional,
    refused,
    shown,
)
from capture import bolts
from capture import extension as extensions
from capture.quantity import Number, convert
from capture.spec.model import Joint

Length = Literal["mm", "in"]
PULL_SQUARE = "Pull square to the tool, at the middle of its grip, or none of this holds."


class Thread(Input):
    """A thread, by pitch or threads per inch."""

    series: Literal["metric", "unified"]
    unit: Annotated[Length, Field(description="Of the lengths.")]
    diameter: Annotated[Size, Field(description="Nominal.")]
    pitch: Size | None = None
    threads_per_inch: Size | None = None
    proof_stress: Size | None = None
    stress_unit: Literal["MPa", "psi"] = "MPa"

    def joint(self) -> Joint:
        """The thread alone, in mm and MPa."""
        return Joint(
            diameter=self._mm(self.diameter),
            pitch=self._pitch(),
            series=self.series,
            nut_factor=None,
            friction_thread=None,
            friction_head=None,
            bearing_diameter=None,
            scatter_percent=None,
            proof_stress=self._stress(self.proof_stress),
            clamped_length=None,
            elastic_modulus=None,
        )

    def _pitch(self) -> Number:
        if decided(self.pitch, self.threads_per_inch) != 1:
            raise ValueError("give the pitch, or the threads per inch: one of them")
        if self.pitch is not None:
            return self._mm(self.pitch)
        assert self.threads_per_inch is not None
        if not number(self.threads_per_inch):
            raise ValueError("threads per inch are above zero")
        return Fraction("25.4") / Fraction(self.threads_per_inch)

    def _mm(self, digits: str) -> Decimal:
        found = in_unit(digits, self.unit, "mm")
        assert isinstance(found, Decimal)  # an inch is 25.4 mm: its decimals end
        return found

    def _optional_mm(self, digits: str | None) -> Decimal | None:
        return None if digits is None else self._mm(digits)

    def _stress(self, digits: str | None) -> Number | None:
        return None if digits is None else in_unit(digits, self.stress_unit, "MPa")


class StressArea(Thread):
    least_pitch_diameter: Annotated[
        Size | None, Field(description="Adds the area for steels over 100 000 psi.")
    ] = None

    example: ClassVar[Data] = {
        "series": "metric",
        "unit": "mm",
        "diameter": "10",
        "pitch": "1.5",
        "proof_stress": "830",
    }

    def answer(self) -> Answer:
        joint = self.joint()
        area = bolts.stress_area(joint)
        result: Data = {"area_mm2": shown(area), "area_in2": shown(area / Fraction("645.16"))}
        if self.least_pitch_diameter is not None:
            least = self._mm(self.least_pitch_diameter)
            found = bolts.stress_area_high_strength(least, joint.pitch)
            result["high_strength_area_mm2"] = shown(found)
            result["high_strength_area_in2"] = shown(found / Fraction("645.16"))
        if joint.proof_stress is not None:
            load = bolts.proof_load(area, joint.proof_stress)
            result["proof_load_N"] = shown(load)
            result["proof_load_lbf"] = shown(convert(load, "N", "lbf"))
        method = {
            "metric": "π/4 · (d − 0.938194 P)² (ISO 898-1).",
            "unified": "π/4 · (D − 0.9743 P)² (ASME B1.1).",
        }[self.series]
        return Answer(None, method, result, [])


class Preload(Thread):
    torque: Size | None = None
    torque_unit: TorqueUnit = "N·m"
    preload: Annotated[Size | None, Field(description="Asks for the torque.")] = None
    force_unit: ForceUnit = "N"
    stretch: Annotated[Size | None, Field(description="Measured, in the unit.")] = None
    nut_factor: Size | None = None
    friction_thread: Size | None = None
    friction_head: Size | None = None
    bearing_diameter: Annotated[Size | None, Field(description="Mean, of friction.")] = None
    scatter_percent: Annotated[Size | None, Field(description="± of the preload.")] = None
    clamped_length: Size | None = None
    elastic_modulus: Size | None = None
    angle: Annotated[Size | None, Field(description="Turned after snug, in degrees.")] = None
    lubricant: Word | None = None

    example: ClassVar[Data] = {
        "series": "metric",
        "unit": "mm",
        "diameter": "10",
        "pitch": "1.5",
        "torque": "50",
        "nut_factor": "0.20",
        "scatter_percent": "25",
        "proof_stress": "580",
        "clamped_length": "50",
        "elastic_modulus": "200000",
        "lubricant": "engine oil",
    }

    def joint(self) -> Joint:
        from dataclasses import replace

        return replace(
            super().joint(),
            nut_factor=optional(self.nut_factor),
            friction_thread=optional(self.friction_thread),
            friction_head=optional(self.friction_head),
            bearing_diameter=self._optional_mm(self.bearing_diameter),
            scatter_percent=optional(self.scatter_percent),
            clamped_length=self._optional_mm(self.clamped_length),
            elastic_modulus=self._stress(self.elastic_modulus),
        )

    def answer(self) -> Answer:
        if decided(self.torque, self.preload, self.stretch) != 1:
            raise ValueError("give a torque, a preload or a stretch: one of the three")
        joint = self.joint()
        found: Data = {}
        estimate = self._estimate(joint, found)
        result = {"scatter": estimate.scatter, "lubricant": self.lubricant, **found}
        result |= self._said(estimate)
        if self.angle is not None:
            bound = bolts.stretch_by_angle(joint.pitch, number(self.angle))
            result["stretch_by_angle"] = shown(convert(bound.upper, "mm", self.unit))
            result["stretch_by_angle_is"] = bound.note
        cautions = list(estimate.cautions)
        method = f"By {estimate.method}"
        if estimate.scatter == bolts.SCATTER_NOT_STATED:
            cautions.insert(0, NO_BOUNDS)
            method += f", {estimate.scatter}"
        return Answer(self.force_unit, f"{method}.", result, cautions)

    def _estimate(self, joint: Joint, result: Data) -> bolts.Estimate:
        if self.stretch is not None:
            scatter = optional(self.scatter_percent)
            found = bolts.of_stretch(joint, self._mm(self.stretch), scatter)
            if found is None:
                raise ValueError("a stretch takes the clamped length and the elastic modulus too")
            return found
        if self.preload is not None:
            wanted = bolts.torque_for_preload(joint, in_unit(self.preload, self.force_unit, "N"))
        else:
            assert self.torque is not None
            wanted = in_unit(self.torque, self.torque_unit, "N·m")
        estimate = None if wanted is None else bolts.of_joint(joint, wanted)
        if wanted is None or estimate is None:
            raise ValueError(
                "a torque says nothing of the preload without friction: give the nut factor, or "
                "the friction of thread and head with the bearing diameter"
            )
        result["torque"] = shown(convert(wanted, "N·m", self.torque_unit))
        result["torque_unit"] = self.torque_unit
        return estimate

    def _said(self, estimate: bolts.Estimate) -> Data:
        between = bolts.Interval(estimate.preload, estimate.lower, estimate.upper)
        said = estimate.scatter
        return {
            "preload": _between(between, said, "N", self.force_unit),
            "share_of_proof": _between(estimate.share_of_proof, said),
            "stretch": _between(estimate.stretch, said, "mm", self.unit),
            "stretch_unit": self.unit,
        }


NO_BOUNDS = (
    "Scatter not stated: the preload is one number out of a range that is not known, and no bounds "
    "are given. State the scatter of this method, tool and lubricant to get them."
)


def _between(
    found: bolts.Interval | None, scatter: str, unit: str = "", to: str = ""
) -> Data | None:
    """The value with its ends, and what is said of its scatter beside it."""
    if found is None:
        return None
    ends = {
        name: None if end is None else shown(convert(end, unit, to) if unit else end)
        for name, end in found._asdict().items()
    }
    return {**ends, "scatter": scatter}


def _half_turn(degrees: str) -> str:
    if abs(number(degrees)) <= 180:
        return degrees
    raise refused(
        f"An extension stands at an angle of -180 to 180 degrees to its tool, not {degrees}.",
        "Write degrees: 0 is straight on, 90 square to the tool, 180 turned back to the grip.",
    )


class Extension(Input):
    tool_length: Annotated[Size, Field(description="Middle of the grip to the drive.")]
    length: Annotated[Size, Field(description="Drive to fastener.")]
    angle: Annotated[
        Digits,
        AfterValidator(_half_turn),
        Field(description="In degrees, -180 to 180; 0 is straight on."),
    ] = "0"
    unit: Annotated[LengthUnit, Field(description="Of both lengths.")]
    wanted: Annotated[Size | None, Field(description="Torque at the fastener.")] = None
    tool: Annotated[Size | None, Field(description="Torque that the tool shows.")] = None
    torque_unit: TorqueUnit = "N·m"

    example: ClassVar[Data] = {
        "tool_length": "16",
        "length": "2",
        "unit": "in",
        "wanted": "50",
        "torque_unit": "lbf·ft",
    }

    def answer(self) -> Answer:
        if decided(self.wanted, self.tool) != 1:
            raise ValueError("give the torque wanted at the fastener, or the one the tool shows")
        lengths = (number(self.tool_length), number(self.length), number(self.angle))
        fitted = extensions.Extension(*lengths, self.unit)
        if self.wanted is not None:
            wanted = number(self.wanted)
            setting: Number = extensions.setting_for(wanted, fitted)
            result = {"fastener": shown(wanted), "tool": shown(setting)}
        else:
            assert self.tool is not None
            tool = number(self.tool)
            result = {
                "fastener": shown(extensions.torque_at_fastener(tool, fitted)),
                "tool": shown(tool),
            }
        result["factor"] = shown(extensions.factor(fitted))
        method = "Torque at the fastener = torque of the tool × (L + E · cos angle) / L."
        return Answer(self.torque_unit, method, result, [PULL_SQUARE])
