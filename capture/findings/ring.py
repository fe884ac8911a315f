"""A ring's gap that belongs to another bore.

A ring keeps its length: in a bore larger by Δ its gap is larger by π·Δ. Among rings cut alike the
gap less π × bore is the same for all; among rings filed to their own bores the gap itself is.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from capture import belong
from capture.build import Build
from capture.findings.chance import left_out
from capture.findings.finding import Finding, size, small
from capture.findings.gather import Measured, mean, measured
from capture.quantity import factor
from capture.sisters import Unlike, unlike


def other_bore(build: Build) -> Iterator[Finding]:
    """Gaps unlike their sisters' by π times the difference to another bore."""
    sizes = list(measured(build))
    for one in sizes:
        if one.characteristic.factors is None or not one.whole or one.count < 4:
            continue
        bores = _bores(build, one, sizes)
        gaps = {number: mean(of) for number, of in one.complete().items() if number in bores}
        if len(gaps) < 4:
            continue
        filed = dict(gaps)
        cut = {number: gap - math.pi * bores[number] for number, gap in gaps.items()}
        basis = min((filed, cut), key=lambda of: _least_scatter(list(of.values())))
        for odd in unlike({number: [value] for number, value in basis.items()}, one.u):
            found = _fits(one, odd, gaps[odd.number], bores)
            if found is not None:
                yield found


def _least_scatter(values: list[float]) -> float:
    """With the one left out whose absence leaves least: a stray one does not choose the basis."""
    return min(squares for _, squares in left_out(values))


def _fits(one: Measured, odd: Unlike, gap: float, bores: dict[int, float]) -> Finding | None:
    away = odd.mean - odd.others
    near = [
        (abs(away - math.pi * (bore - bores[odd.number])), number)
        for number, bore in bores.items()
        if number != odd.number
    ]
    miss, other = min(near)
    if miss > 2.0 * odd.standard_deviation or miss > abs(away) / 2.0:
        return None
    change = math.pi * (bores[other] - bores[odd.number])
    return Finding(
        "gap-of-another-bore",
        one.subject(odd.number),
        f"The gap of {size(gap)} {one.unit} at {one.characteristic.part} {odd.number} is "
        f"{small(abs(away))} {one.unit} {'more' if away > 0 else 'less'} than its sisters lead to "
        f"expect; in the bore of {other} it would be π × {small(bores[other] - bores[odd.number])} "
        f"= {small(change)} {one.unit} more. Was it measured there?",
        {"gap": size(gap), "away": small(away), "like": str(other), "change": small(change)},
    )


def _bores(build: Build, one: Measured, sizes: list[Measured]) -> dict[int, float]:
    """Number of the ring → the size its limits follow from, in the gap's unit."""
    assert one.characteristic.factors is not None
    name, spec = one.characteristic.factors.of, build.spec
    part = belong.part_of(spec, name)
    by_number: dict[int, float] = {}
    if name in spec.characteristics:
        scale = float(factor(spec.characteristics[name].unit, one.unit))
        for other in sizes:
            if other.characteristic.id == name:
                by_number = {n: mean(of) * scale for n, of in other.complete().items()}
    else:
        scale = float(factor(spec.derived[name].unit, one.unit))
        for (derived, number), fill in build.derived.items():
            if derived == name:
                by_number[number] = float(str(fill.verdict["measured"])) * scale
    found = {}
    for number in range(1, one.count + 1):
        there = belong.counterpart(spec, one.characteristic.part, number, part)
        if len(there) == 1 and there[0] in by_number:
            found[number] = by_number[there[0]]
    return found
