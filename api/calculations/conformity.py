"""How likely a size conforms, and how often a rule is wrong (JCGM 106)."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Annotated, ClassVar, Final, Literal

from pydantic import Field

from api.calculations.forms import Answer, Data, Digits, Input, Size, Unit, number, optional
from capture import risk
from capture.check import gate
from capture.spec.model import Decision, Limits, Rule

Expanded = Annotated[Size, Field(description="Expanded uncertainty U.")]
_CLOSEST: Final = 1e-12
"""How small u may be against the scatter, and the other way round: beyond, the integration finds
nothing."""
Coverage = Annotated[Size, Field(description="Coverage factor k of U.")]


class Limited(Input):
    """Limits, and how well a size is known."""

    unit: Unit
    lower: Digits | None = None
    upper: Digits | None = None
    expanded_uncertainty: Expanded
    coverage_factor: Coverage

    def zone(self) -> risk.Zone:
        if self.lower is None and self.upper is None:
            raise ValueError("give a limit on at least one side: none is set here")
        ends = (None if one is None else float(one) for one in (self.lower, self.upper))
        return risk.Zone(*ends)

    def u(self) -> float:
        return standard(self.expanded_uncertainty, self.coverage_factor)


def standard(expanded: str, coverage: str) -> float:
    """U / k. Raises ValueError for a k that is not above zero."""
    if not number(coverage):
        raise ValueError("a coverage factor is above zero")
    return float(expanded) / float(coverage)


class Conformance(Limited):
    value: Digits
    guard_factor: Annotated[Size, Field(description="g of the guarded rule: the band is g·U.")] = (
        "1"
    )

    example: ClassVar[Data] = {
        "unit": "mm",
        "value": "86.018",
        "lower": "86.000",
        "upper": "86.020",
        "expanded_uncertainty": "0.004",
        "coverage_factor": "2",
    }

    def answer(self) -> Answer:
        zone, u, value = self.zone(), self.u(), float(self.value)
        limits = Limits(optional(self.lower), optional(self.upper))
        verdicts: Data = {}
        cautions = []
        for rule in Rule:
            k = number(self.coverage_factor)
            decision = Decision(rule, number(self.guard_factor), k)
            made = gate(limits, decision, number(self.expanded_uncertainty))
            verdicts[rule.value] = made.judge(number(self.value)).value
            cautions += [f"{rule.value}: {note}" for note in made.notes]
        result = {
            "conformance_probability": risk.conformance_probability(value, u, zone),
            "specific_risk": risk.specific_risk(value, u, zone),
            "standard_uncertainty": u,
            "verdicts": verdicts,
        }
        method = (
            "Normal error, nothing else known of the part (JCGM 106, 7.2 and 9.3); verdicts by "
            "simple acceptance, by a guard band of g·U, and by 1.65·u (ISO 14253-1)."
        )
        return Answer(self.unit, method, result, cautions)


class Risks(Limited):
    process_mean: Digits
    process_standard_deviation: Size
    process_shape: Annotated[
        Literal["normal", "gamma"],
        Field(description="gamma: never below zero, as a form error or a run-out."),
    ] = "normal"
    guard_band: Annotated[
        Digits, Field(description="Inside every limit; negative lies outside.")
    ] = "0"
    wanted_consumers_risk: Annotated[
        Size | None, Field(description="Asks for the least guard band that keeps it.")
    ] = None

    example: ClassVar[Data] = {
        "unit": "mm",
        "process_mean": "86.010",
        "process_standard_deviation": "0.005",
        "lower": "86.000",
        "upper": "86.020",
        "expanded_uncertainty": "0.004",
        "coverage_factor": "2",
        "wanted_consumers_risk": "0.001",
    }

    def answer(self) -> Answer:
        zone, u, s = self._from_origin(), self.u(), float(self.process_standard_deviation)
        if not (s and u and _CLOSEST < u / s < 1 / _CLOSEST):
            raise ValueError(
                "the scatter of the process and the standard uncertainty are above zero, and not "
                "so far apart: check their digits"
            )
        mean = float(self.process_mean) if self.process_shape == "gamma" else 0.0
        process = gamma_process(mean, s) if mean else risk.normal_process(0.0, s)
        result: Data = {"cpk": risk.process_capability(mean, s, zone)}
        result |= self._found(process, u, zone, float(self.guard_band))
        if self.wanted_consumers_risk is not None:
            wanted = float(self.wanted_consumers_risk)
            band = risk.guard_band_for(process, u, zone, wanted)
            result["for_wanted"] = self._found(process, u, zone, band)
        method = f"A {self.process_shape} process and normal error, integrated (JCGM 106, 9.5)."
        caution = "Holds for parts that come from this process, before any is measured."
        return Answer(self.unit, method, result, [caution])

    def _origin(self) -> Decimal:
        """What is taken off every size before floats begin: the mean, of a normal process."""
        if self.process_shape == "normal":
            return number(self.process_mean)
        if not float(self.process_mean) > 0:
            raise ValueError("a gamma process lies above zero: its mean does so too")
        return Decimal(0)

    def _from_origin(self) -> risk.Zone:
        self.zone()
        origin = self._origin()
        ends = (None if one is None else number(one) - origin for one in (self.lower, self.upper))
        return risk.Zone(*(None if end is None else float(end) for end in ends))

    def _found(self, process: risk.Process, u: float, zone: risk.Zone, band: float) -> Data:
        acceptance = risk.guarded(zone, band)
        lower, upper = acceptance
        if lower is not None and upper is not None and lower > upper:
            raise ValueError("a guard band that wide leaves nothing to accept: make it narrower")
        found = risk.risks(process, u, zone, acceptance)
        origin = float(self._origin())
        return {
            "guard_band": band,
            "acceptance_lower": None if lower is None else lower + origin,
            "acceptance_upper": None if upper is None else upper + origin,
            **found._asdict(),
        }


_FAR: Final = 40.0
"""Standard deviations above its mean beyond which nothing of a gamma process is left: 1e-17 of the
exponential, its widest."""


def gamma_process(mean: float, s: float) -> risk.Process:
    """Sizes from zero up, scattered as the gamma distribution of this mean and standard deviation.

    Raises ValueError where it scatters more than its mean: it would crowd at zero without end.
    """
    shape, scale = (mean / s) ** 2, s * s / mean
    if not 1.0 <= shape < 1e6:
        raise ValueError(
            "a gamma process scatters no more than its mean, and no less than a thousandth of it"
        )
    whole = math.lgamma(shape) + shape * math.log(scale)

    def density(size: float) -> float:
        if size <= 0.0:
            return 1.0 / scale if size == 0.0 and shape == 1.0 else 0.0
        return math.exp((shape - 1.0) * math.log(size) - size / scale - whole)

    marks = tuple(mean + k * s for k in (-6, -3, -1, 0, 1, 3, 6, 12))
    return risk.Process(density, 0.0, mean + _FAR * s, marks)
