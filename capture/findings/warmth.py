"""Parts measured at different temperatures: what fits warm may not fit cold."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from capture.build import Build
from capture.findings.finding import Finding
from capture.quantity import Number, convert, dimension, exact, text
from capture.spec.model import Kind
from capture.temperature import APART


def apart(build: Build) -> Iterator[Finding]:
    """Two parts whose temperatures differ by more than 2 °C (our proposal, no source)."""
    found: dict[str, Number] = {}
    for at, step in enumerate(build.steps):
        fill = build.fills[at]
        if step.kind is not Kind.MEASURE or fill is None or fill.value is None:
            continue
        if dimension(step.unit) == "temperature":
            found[step.subject_id] = convert(fill.value, step.unit, "°C")
    if len(found) < 2:
        return
    coldest = min(found, key=lambda name: found[name])
    warmest = max(found, key=lambda name: found[name])
    between = Fraction(found[warmest]) - Fraction(found[coldest])
    if between > APART:
        low, high = (text(found[name], 1) for name in (coldest, warmest))
        yield Finding(
            "parts-not-one-temperature",
            warmest,
            f"{warmest} is at {high} °C and {coldest} at {low} °C, {text(exact(between), 1)} °C "
            "apart: let parts and gauges come to one temperature, or correct the sizes to 20 °C.",
            {"low": low, "high": high, "apart": text(exact(between), 1)},
        )
