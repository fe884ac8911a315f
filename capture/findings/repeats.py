"""Repeats of one size: they scatter more than they should, or to one side.

A ring that does not stand square, a gauge that is not rocked through its smallest reading and a
crankshaft pushed one way only all show so (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from statistics import median

from capture.build import Build
from capture.findings.chance import RARE, chi_square, squares
from capture.findings.finding import Finding, small
from capture.findings.gather import Measured, measured

ONE_SIDE = 3.0
"""How many times longer one side of the scatter must be than the other."""


def scatter(build: Build) -> Iterator[Finding]:
    """Repeats that scatter more than the uncertainty, and than the repeats of the other places."""
    for one in measured(build):
        all_of = {key: values for key, values in one.repeats.items() if len(values) > 1}
        every = {key: squares(values) for key, values in all_of.items()}
        total, all_degrees = sum(every.values()), sum(len(v) - 1 for v in all_of.values())
        for key, values in all_of.items():
            usual = _usual(one, total - every[key], all_degrees - len(values) + 1)
            degrees = len(values) - 1
            own = math.sqrt(every[key] / degrees)
            most = usual * math.sqrt(chi_square(RARE / len(all_of), degrees) / degrees)
            if usual and own > most:
                yield Finding(
                    "repeats-scatter",
                    one.subject(*key),
                    f"The {len(values)} repeats scatter by {small(own)} {one.unit} (standard "
                    f"deviation), from {min(values):.6g} to {max(values):.6g} {one.unit}; "
                    f"{small(most)} {one.unit} would be much. Not square, not rocked, or moved "
                    "between? Take three more.",
                    {"deviation": small(own), "allowed": small(most), "usual": small(usual)},
                )


def _usual(one: Measured, of_others: float, degrees: int) -> float:
    pooled = max(0.0, of_others) / degrees if degrees else 0.0
    return math.sqrt(max(pooled, (one.u or 0.0) ** 2))


def one_sided(build: Build) -> Iterator[Finding]:
    """Three repeats or more that reach far to one side of their median."""
    for one in measured(build):
        if one.u is None:
            continue
        expanded = 2.0 * math.sqrt(2.0) * one.u
        for key, values in one.repeats.items():
            if len(values) < 3:
                continue
            middle = median(values)
            up, down = max(values) - middle, middle - min(values)
            far, near = max(up, down), min(up, down)
            if far > expanded and far >= ONE_SIDE * near:
                yield Finding(
                    "repeats-to-one-side",
                    one.subject(*key),
                    f"The {len(values)} repeats reach {small(far)} {one.unit} "
                    f"{'above' if up > down else 'below'} their median and {small(near)} "
                    f"{one.unit} to the other side; the uncertainty explains {small(expanded)} "
                    f"{one.unit}. Rock the gauge, push both ways, and let both repeat.",
                    {"far": small(far), "near": small(near), "explained": small(expanded)},
                )
