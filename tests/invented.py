"""Small invented specs, made without a file: what tests of one module need of a spec."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from capture.spec.model import (
    Characteristic,
    Decision,
    Derived,
    Given,
    Kind,
    Limits,
    Operation,
    Part,
    Point,
    Quantity,
    Spec,
)

WIDE = Limits(Decimal(-1000), Decimal(1000))


def part(name: str, count: int, position: str = "", per: int = 1) -> Part:
    return Part(name, name.title(), count, position or name, per)


def size(
    name: str, of: str, points: Iterable[Point] = (Point(),), unit: str = "mm", repeats: int = 1
) -> Characteristic:
    return Characteristic(
        name, name.title(), of, unit, None, Limits(None, None), tuple(points), repeats, ("any",),
        WIDE,
    )  # fmt: skip


def derived(
    name: str, quantity: Quantity, of: Iterable[str], part: str = "", unit: str = "mm"
) -> Derived:
    return Derived(name, name.title(), quantity, tuple(of), unit, WIDE, part=part)


def spec(
    parts: Iterable[Part],
    sizes: Iterable[Characteristic],
    results: Iterable[Derived] = (),
    given: Iterable[Given] = (),
) -> Spec:
    """A spec that measures every size once, in the order given."""
    sizes = list(sizes)
    return Spec(
        hash="", id="invented", title="Invented", revision="1", invented=True, notice="",
        parts={one.id: one for one in parts},
        characteristics={one.id: one for one in sizes},
        derived={one.id: one for one in results},
        fasteners={}, confirmations={}, turning_tests={},
        operations=tuple(Operation(f"{one.id}s", Kind.MEASURE, one.id, ()) for one in sizes),
        decision=Decision(),
        given={one.id: one for one in given},
    )  # fmt: skip
