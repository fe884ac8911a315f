"""Bringing a reading to 20 °C: which temperatures and coefficients apply, from spec and bench.

Only where the spec gives the part's expansion, and the part's temperature has been measured: before
that the size is judged as it is and says so. The gauge's part comes from bench.toml (its expansion)
and from the temperature last recorded of it.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from capture import belong, temperature
from capture.build import Build
from capture.case import Case
from capture.quantity import Number, brief, convert, text
from capture.sized import sizes_of
from capture.spec.model import Expansion, Kind, Limits
from capture.step import Step
from capture.temperature import Correction, Unsure, Warmth
from capture.uncertainty import Contribution

TEMPERATURE_PLACES = 3


class Warmed(NamedTuple):
    """What brings sizes of one reading to 20 °C."""

    part: Warmth | None
    """None: the part's temperature is not measured yet, and nothing is corrected."""
    scale: Warmth | None
    standard: Number | None
    """Of a comparative gauge: the size of what it was set on, in the step's unit."""
    of_part: Unsure
    of_scale: Unsure
    contributions: tuple[Contribution, ...]
    limits: Limits
    waits_for: str
    assumed: bool
    """Nobody recorded how warm the gauge is."""

    @property
    def temperatures(self) -> dict[str, str | None]:
        """For the verdict: part's and gauge's, °C."""
        return {
            "part": None if self.part is None else text(self.part.celsius, TEMPERATURE_PLACES),
            "gauge": None if self.scale is None else text(self.scale.celsius, TEMPERATURE_PLACES),
        }

    def corrected(self, measured: Number) -> Correction:
        """The size at 20 °C."""
        if self.part is None:
            return Correction(measured, measured, Decimal(0))
        if self.standard is None:
            return temperature.corrected(measured, self.part, self.scale)
        deviation = Fraction(measured) - Fraction(self.standard)
        return temperature.corrected_comparative(self.standard, deviation, self.part, self.scale)

    def notes(self, correction: Correction) -> list[str]:
        """What a reader of the corrected size must know."""
        if self.part is None:
            return [f"not brought to 20 °C: {self.waits_for} is not measured yet"]
        found = temperature.warnings(
            correction, self.part, self.scale, self.limits, self.of_part, self.of_scale
        )
        if self.assumed:
            found = (
                "the gauge is taken to be as warm as the part: its temperature is not recorded",
                *found,
            )
        return [f"brought to 20 °C from {brief(correction.uncorrected, 6)}", *found]


def warmed(case: Case, build: Build, step: Step) -> Warmed | None:
    """None where the spec gives no expansion for this step's part."""
    one = build.spec.characteristics.get(step.subject) if step.kind is Kind.MEASURE else None
    if one is None or one.expansion is None:
        return None
    found = _part(build, step, one.expansion)
    part, of_part = (None, temperature.NOT_STATED) if found is None else found
    scale, of_scale = _scale(case, part)
    standard = None
    if case.instrument is not None and case.instrument.comparative and case.setting is not None:
        standard = convert(case.setting.size, case.setting.unit, step.unit)
    contributions: tuple[Contribution, ...] = ()
    if part is not None and case.measured is not None:
        made = temperature.contributions(case.measured, part, scale, of_part, of_scale)
        contributions = tuple(made)
    return Warmed(
        part, scale, standard, of_part, of_scale, contributions, step.limits,
        one.expansion.temperature, scale is not None and case.warmth is None,
    )  # fmt: skip


def _part(build: Build, step: Step, expansion: Expansion) -> tuple[Warmth, Unsure] | None:
    spec = build.spec
    source = spec.characteristics[expansion.temperature]
    assert step.part is not None
    at = belong.counterpart(spec, step.part, step.number, source.part)
    sizes = sizes_of(build, source, at[0], {}, source.unit) if len(at) == 1 else None
    if sizes is None:
        return None
    values = [size.value for size in sizes.values()]
    mean = sum((Fraction(convert(value, source.unit, "°C")) for value in values), Fraction(0))
    us = [size.u for size in sizes.values()]
    u = None if None in us else max(each for each in us if each is not None)
    if u is not None and source.unit == "°F":
        u *= 5.0 / 9.0
    coefficient = expansion.coefficient_uncertainty
    unsure = Unsure(u, None if coefficient is None else float(coefficient))
    return Warmth(mean / len(values), expansion.coefficient), unsure


def _scale(case: Case, part: Warmth | None) -> tuple[Warmth | None, Unsure]:
    """The gauge's scale or setting standard; as warm as the part where nobody recorded it."""
    instrument = case.instrument
    if instrument is None or instrument.expansion is None or part is None:
        return None, temperature.NOT_STATED
    if case.warmth is None:
        return Warmth(part.celsius, instrument.expansion), temperature.NOT_STATED
    celsius, u = case.warmth
    return Warmth(celsius, instrument.expansion), Unsure(u, None)
