"""Quantities derived from measured sizes, evaluated when the last size they need is there.

Sizes from one gauge share its calibration and setting standard. No credit is taken for that in a
difference (root sum of squares, on the safe side), and a mean is taken to be no surer than its
sizes (as if all of their uncertainty were shared): both are never too small.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import Decimal
from typing import Any, NamedTuple

from capture import shapes
from capture.build import Build, Fill
from capture.evaluate import Evaluator, standard_uncertainty
from capture.quantity import Number, convert
from capture.spec.model import Characteristic, Derived, Point, Quantity
from capture.uncertainty import expand, mean_of_shared, root_sum


class Size(NamedTuple):
    """The size at one point: mean of its repeats, and its standard uncertainty."""

    value: Number
    u: float | None


Fills = Mapping[int, Fill | None]
"""What is about to answer a step, by its index: seen as if it were there already."""


def derived_results(
    build: Build, characteristic: str, number: int, fills: Fills, evaluator: Evaluator
) -> list[dict[str, Any]]:
    """Results of every derived quantity that this size completes or changes, ready for the
    entry: ``{"id", "number", "verdict"}``."""
    found = []
    for derived in build.spec.derived.values():
        if characteristic in derived.of:
            result = _result(build, derived, number, fills, evaluator)
            if result is not None:
                found.append({"id": derived.id, "number": number, "verdict": result})
    return found


def _result(
    build: Build, derived: Derived, number: int, fills: Fills, evaluator: Evaluator
) -> dict[str, Any] | None:
    sets = []
    for name in derived.of:
        sizes = sizes_of(build, build.spec.characteristics[name], number, fills, derived.unit)
        if sizes is None:
            return None
        sets.append(sizes)
    value, u = _compute(derived, sets)
    decision = build.spec.decision
    expanded = None if u is None else expand(u, decision.coverage_factor)
    return evaluator.judge(derived.unit, derived.limits, decision, expanded).on(value)


def _compute(derived: Derived, sets: list[dict[Point, Size]]) -> tuple[Number, float | None]:
    values = [{point: size.value for point, size in sizes.items()} for sizes in sets]
    if derived.quantity is Quantity.CLEARANCE:
        outer, inner = (list(each.values()) for each in values)
        value = shapes.clearance(outer, inner, derived.basis)
        parts = [_mean_u(each) if derived.basis == "mean" else _worst_u(each) for each in sets]
        return value, None if None in parts else root_sum([u for u in parts if u is not None])
    one = sets[0]
    if derived.quantity is Quantity.MEAN:
        return shapes.mean(list(values[0].values())), _mean_u(one)
    shape = shapes.taper if derived.quantity is Quantity.TAPER else shapes.out_of_round
    worst = _worst_u(one)
    return shape(values[0]), None if worst is None else root_sum([worst, worst])


def _mean_u(sizes: Mapping[Point, Size]) -> float | None:
    us = [size.u for size in sizes.values()]
    return None if None in us else mean_of_shared([u for u in us if u is not None])


def _worst_u(sizes: Mapping[Point, Size]) -> float | None:
    us = [size.u for size in sizes.values()]
    return None if None in us else max(u for u in us if u is not None)


def sizes_of(
    build: Build, one: Characteristic, number: int, fills: Fills, unit: str
) -> dict[Point, Size] | None:
    """Sizes at every point of a characteristic at one number, in ``unit``, from the last
    operation that has measured them all; None while none has."""
    for work in reversed(build.works_of(one.id)):
        per = len(one.points) * one.repeats
        start = work.start + (number - 1) * per
        if start >= work.stop:
            continue
        steps = range(start, start + per)
        found = [fills[at] if at in fills else build.fills[at] for at in steps]
        if all(fill is not None and fill.value is not None for fill in found):
            repeats = one.repeats
            groups = [found[at : at + repeats] for at in range(0, per, repeats)]
            sizes = (_size([f for f in group if f is not None], one, unit) for group in groups)
            return dict(zip(one.points, sizes, strict=True))
    return None


def _size(fills: list[Fill], one: Characteristic, unit: str) -> Size:
    values = [convert(fill.value, one.unit, unit) for fill in fills if fill.value is not None]
    # The newest decision is on all repeats together; seq 0 is the one being made.
    newest = max(fills, key=lambda fill: fill.seq or math.inf)
    u = standard_uncertainty(newest.expanded, newest.coverage)
    if u is not None and one.unit != unit:
        u *= float(convert(Decimal(1), one.unit, unit))
    return Size(shapes.mean(values) if len(values) > 1 else values[0], u)


def if_swapped(
    build: Build, part: str, one: int, two: int, evaluator: Evaluator
) -> list[dict[str, Any]]:
    """Every derived result at two numbers if the pieces there changed places."""
    names = [name for name, size in build.spec.characteristics.items() if size.part == part]
    fills = build.swapped(part, one, two)
    found: dict[tuple[str, int], dict[str, Any]] = {}
    for number in (one, two):
        for name in names:
            for result in derived_results(build, name, number, fills, evaluator):
                found[result["id"], number] = result
    return list(found.values())
