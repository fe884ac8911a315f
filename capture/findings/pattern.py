"""A group of fasteners at one stage: its scatter, its mean, and the one outside its family."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from capture.build import Build
from capture.findings.chance import RARE, chi_square, deviation
from capture.findings.finding import Finding, size, small
from capture.findings.gather import answers, mean, uncertainty
from capture.quantity import dimension
from capture.sisters import unlike
from capture.spec.model import Kind, Stage

COVERAGE = 2.0
LEAST = 4
"""Fasteners a group must have for its scatter to say anything."""


@dataclass(frozen=True, slots=True)
class _Group:
    subject: str
    stage: Stage
    values: dict[int, float]
    u: float | None

    @property
    def torque(self) -> bool:
        return dimension(self.stage.unit) == "torque"


def _groups(build: Build) -> Iterator[_Group]:
    for operation, found, _ in answers(build, Kind.TIGHTEN):
        stages: dict[str, list[tuple[int, float, float | None]]] = {}
        subject = None
        for step, fill in found:
            assert fill.value is not None
            subject = step.subject
            one = (step.number, float(fill.value), uncertainty(fill))
            stages.setdefault(step.point, []).append(one)
        if subject is None:
            continue
        for stage in build.spec.fasteners[subject].stages:
            pulls = stages.get(stage.id, [])
            us = [u for _, _, u in pulls if u is not None]
            u = max(us) if us and len(us) == len(pulls) else None
            values = {number: value for number, value, _ in pulls}
            if len(values) >= LEAST:
                yield _Group(f"{operation}/{stage.id}", stage, values, u)


def scatter(build: Build) -> Iterator[Finding]:
    """Torques that scatter by more than the tool's expanded uncertainty: hands add their own to
    the tool's repeatability, and that much is left to them."""
    for group in _groups(build):
        if group.u is None or not group.torque:
            continue
        values = list(group.values.values())
        degrees = len(values) - 1
        found = deviation(values)
        expanded = COVERAGE * group.u
        most = expanded * math.sqrt(chi_square(RARE, degrees) / degrees)
        if found > most:
            yield Finding(
                "pulls-scatter",
                group.subject,
                f"The {len(values)} pulls scatter by {small(found)} {group.stage.unit} (standard "
                f"deviation); the tool's expanded uncertainty is {small(expanded)}, and "
                f"{small(most)} would be much. Pulled off the axis, off the grip, or jerkily?",
                {
                    "deviation": small(found),
                    "allowed": small(most),
                    "expanded_uncertainty": small(expanded),
                    "count": str(len(values)),
                    "unit": group.stage.unit,
                },
            )


def scaled(build: Build, factors: Mapping[str, float]) -> Iterator[Finding]:
    """Whole groups off their target by the factor of an extension: L/(L + E), or its inverse.

    ``factors``: name of the extension → tool setting over torque at the fastener.
    """
    for group in _groups(build):
        if not group.torque:
            continue
        values = list(group.values.values())
        target = float(group.stage.target)
        ratio = mean(values) / target
        chance = 3.0 * deviation(values) / math.sqrt(len(values)) / target
        allowed = max(chance, 2.0 * (group.u or 0.0) / target)
        for name, factor in factors.items():
            for wanted, words in ((factor, "setting"), (1.0 / factor, "torque at the fastener")):
                off = abs(ratio - wanted)
                if abs(ratio - 1.0) > allowed and off <= allowed and off < abs(ratio - 1.0) / 2.0:
                    yield Finding(
                        "scaled-pattern",
                        group.subject,
                        f"The {len(values)} pulls are {size(ratio)} of their target of "
                        f"{size(target)} {group.stage.unit}; {name} gives {size(wanted)}. Was it "
                        f"on the tool and not entered, and is what was recorded the {words}?",
                        {
                            "ratio": size(ratio),
                            "factor": size(wanted),
                            "extension": name,
                            "allowed": small(allowed),
                        },
                    )


def families(build: Build) -> Iterator[Finding]:
    """Fasteners whose torque, angle or stretch is unlike that of all the others of their group."""
    for group in _groups(build):
        unit = group.stage.unit
        for odd in unlike({n: [value] for n, value in group.values.items()}, group.u):
            yield Finding(
                "outside-its-family",
                f"{group.subject.split('/')[0]}/{odd.number}/{group.stage.id}",
                f"Fastener {odd.number} shows {size(odd.mean)} {unit}, the others "
                f"{size(odd.others)} {unit} in the mean; {small(odd.allowed)} {unit} "
                "apart would be far. Another lubricant, a damaged thread, or one that has "
                "yielded?",
                {
                    "value": size(odd.mean),
                    "others": size(odd.others),
                    "allowed": small(odd.allowed),
                    "unit": unit,
                },
            )
