"""Quantities derived from measured sizes, evaluated when the last size they need is there.

The uncertainty of a result takes account of what its sizes share, a gauge's certificate or its
setting standard (``capture.correlation``): a clearance measured with one gauge is better known than
one with two. A size without an established uncertainty leaves the result without one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Any

from capture import shapes
from capture.belong import affected, in_order, part_of
from capture.build import Build, Fill
from capture.derivation import Derivation
from capture.evaluate import Evaluator
from capture.quantity import exact, text
from capture.rework import Order, moved, reopened
from capture.sized import Fills as Fills
from capture.sized import Size as Size
from capture.sized import sizes_of as sizes_of
from capture.spec.model import Derived, Quantity
from capture.uncertainty import Budget, expand
from capture.zero import undecided


def derived_results(
    build: Build, characteristic: str, number: int, fills: Fills, evaluator: Evaluator
) -> list[dict[str, Any]]:
    """Results of every derived quantity that this size (at ``number`` of its own part) completes
    or changes, directly or through others, ready for the entry: ``{"id", "number", "verdict"}``,
    each after those it rests on."""
    return _results(build, affected(build.spec, characteristic, number), fills, evaluator)


def derived_now(
    build: Build, derived: Derived, number: int, fills: Fills, evaluator: Evaluator
) -> dict[str, Any] | None:
    """The verdict on one derived quantity; None while a size it needs is missing, and where its
    formula divides by zero."""
    return _verdict(Derivation(build, fills), derived, number, evaluator)


def budget_of(build: Build, derived: Derived, number: int) -> Budget | None:
    """What the uncertainty of a derived quantity is made of: each source that its sizes share
    (certificates, setting standards), and the own share of each size (``characteristic/number/
    point``). For ``uncertainty.lines``. None while a size is missing or its uncertainty is not
    established."""
    derivation = Derivation(build, {})
    found = derivation.value(derived, number)
    return None if found is None else derivation.budget(found)


def if_swapped(
    build: Build, part: str, one: int, two: int, evaluator: Evaluator
) -> list[dict[str, Any]]:
    """Every derived result that would change if the pieces at two numbers changed places."""
    return _if_ordered(build, part, {one: two, two: one}, evaluator)


def if_moved(
    build: Build, part: str, pieces: Mapping[int, str], evaluator: Evaluator
) -> list[dict[str, Any]]:
    """Every derived result that would change if these pieces stood at these numbers.

    Raises ValueError where a piece has no place yet, or the pieces do not change places among
    themselves (two at one number, or one left over).
    """
    order: dict[int, int] = {}
    for number, piece in pieces.items():
        there = build.pieces.where(part, piece)
        if there is None:
            raise ValueError(f"{piece} stands at no {part} of this build: assign it first")
        order[number] = there
    if sorted(order) != sorted(order.values()):
        raise ValueError("the pieces do not change places among themselves: name each once")
    return _if_ordered(build, part, order, evaluator)


def _if_ordered(
    build: Build, part: str, order: Order, evaluator: Evaluator
) -> list[dict[str, Any]]:
    order = {to: of for to, of in order.items() if to != of}
    names = [name for name, size in build.spec.characteristics.items() if size.part == part]
    found = {
        each for name in names for number in order for each in affected(build.spec, name, number)
    }
    rank = {name: at for at, name in enumerate(in_order(build.spec))}
    wanted = sorted(found, key=lambda each: (rank[each[0]], each[1]))
    fills: dict[int, Fill | None] = dict.fromkeys(reopened(build, part, set(order)))
    fills.update(moved(build, part, order))
    return _results(build, wanted, fills, evaluator)


def _results(
    build: Build, wanted: Iterable[tuple[str, int]], fills: Fills, evaluator: Evaluator
) -> list[dict[str, Any]]:
    results = []
    derivation = Derivation(build, fills)
    for name, number in wanted:
        verdict = _verdict(derivation, build.spec.derived[name], number, evaluator)
        if verdict is not None:
            results.append({"id": name, "number": number, "verdict": verdict})
    return results


def _verdict(
    derivation: Derivation, derived: Derived, number: int, evaluator: Evaluator
) -> dict[str, Any] | None:
    found = derivation.value(derived, number)
    if found is None:
        return None
    build = derivation.build
    decision = build.spec.decision
    u = derivation.uncertainty(found)
    expanded = None if u is None else expand(u, decision.coverage_factor)
    verdict = evaluator.judge(derived.unit, derived.limits, decision, expanded).on(found.value)
    for note in _drifts(build, derived, number) if build.drifted else ():
        verdict = undecided(verdict, note)
    return verdict


def _drifts(build: Build, derived: Derived, number: int) -> list[str]:
    """What zero checks found over the sets of the sizes that a result rests on."""
    notes: dict[str, None] = {}
    for at, fill in enumerate(build.fills):
        if fill is None or not fill.drift:
            continue
        step = build.steps[at]
        if (derived.id, number) in affected(build.spec, step.subject, step.number):
            notes[fill.drift] = None
    return list(notes)


def clearances_at(build: Build, derived: Derived, number: int) -> list[dict[str, str]]:
    """The clearance at every point of the outer part, less the mean of the inner:
    ``{"point", "value"}``, decimal text in the derived quantity's unit. Empty while a size is
    missing, and for a quantity that is not a clearance."""
    if derived.quantity is not Quantity.CLEARANCE:
        return []
    part, derivation = part_of(build.spec, derived.id), Derivation(build, {})
    outer, inner = (derivation.items(name, part, number, derived.unit) for name in derived.of)
    if outer is None or inner is None:
        return []
    middle = Fraction(shapes.mean([item.value for item in inner]))
    return [
        {"point": item.point.id, "value": text(exact(Fraction(item.value) - middle))}
        for item in outer
    ]
