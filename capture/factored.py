"""Limits that follow from another size: a ring gap by the bore of its own cylinder."""

from __future__ import annotations

from fractions import Fraction

from capture import belong
from capture.build import Build
from capture.derive import Fills, sizes_of
from capture.evaluate import measured_of
from capture.quantity import Number, convert
from capture.shapes import limits_by_factor, mean
from capture.spec.model import Factors, Limits
from capture.step import Step


def limits_of(build: Build, step: Step) -> Limits | None:
    """The limits of a step as they now are; None while what they follow from is not known."""
    one = build.spec.characteristics.get(step.subject) if step.kind == "measure" else None
    if one is None or one.factors is None:
        return step.limits
    assert step.part is not None
    size = _source(build, one.factors, step.part, step.number, step.unit)
    if size is None:
        return None
    key = (step.subject, step.number)
    kept = build.limits.get(key)
    if kept is None or kept[0] != size:
        made = limits_by_factor(size, one.factors.lower, one.factors.upper)
        kept = build.limits[key] = (size, made)
    return kept[1]


def _source(build: Build, factors: Factors, part: str, number: int, unit: str) -> Number | None:
    """The size that the limits follow from, at the same position."""
    spec = build.spec
    at = belong.counterpart(spec, part, number, belong.part_of(spec, factors.of))
    if len(at) != 1:
        return None
    derived = spec.derived.get(factors.of)
    if derived is not None:
        fill = build.derived.get((factors.of, at[0]))
        return None if fill is None else convert(measured_of(fill.verdict), derived.unit, unit)
    none: Fills = {}
    sizes = sizes_of(build, spec.characteristics[factors.of], at[0], none, unit)
    return None if sizes is None else mean([Fraction(size.value) for size in sizes.values()])
