"""Reads what drawings need: ``shape``, ``layout``, ``directions``. Nothing is decided by them."""

from __future__ import annotations

from decimal import Decimal

from capture.spec import value as values
from capture.spec.model import Part, Point
from capture.spec.shape import Place, Shape
from capture.spec.table import Table
from capture.spec.value import Unfit

SIZE_KEYS = ("shape", "layout", "directions")
FASTENER_KEYS = ("layout", "seen_from")
FULL_TURN = 360
SPOT, STRETCH = 2, 4
"""Numbers of a spot, and of a line."""


def read_shape(table: Table) -> Shape | None:
    """The shape stated, or None."""
    return table.choice("shape", Shape) if "shape" in table else None


def read_directions(table: Table, points: tuple[Point, ...]) -> tuple[float, ...]:
    """Degrees of the axes, in their order, counted against the clock from the right; none where
    the file is silent."""
    degrees = table.numbers("directions")
    if "directions" in table and table.fine("directions", "axes"):
        axes = len({point.axis for point in points if point.axis})
        if len(degrees) != axes:
            message = f"there are {len(degrees)} directions for {axes} axes"
            table.problem("directions", message, "give one in degrees for each axis, in its order")
        elif any(abs(one) > FULL_TURN for one in degrees):
            message = "a direction is more than a full turn"
            table.problem("directions", message, "write degrees from 0 to 360, as 90")
    return tuple(float(one) for one in degrees)


def read_points(table: Table, points: tuple[Point, ...]) -> tuple[Place, ...]:
    """Where each point of a size is, in the points' order; none where the file is silent."""
    return _layout(table, len(points), "point", (SPOT, STRETCH))


def read_pattern(table: Table, part: Part | None) -> tuple[Place, ...]:
    """Where each fastener of a group is, by number; none where the file is silent."""
    return _layout(table, part.count if part else None, "fastener", (SPOT,))


def _layout(
    table: Table, count: int | None, what: str, sizes: tuple[int, ...]
) -> tuple[Place, ...]:
    example = "[[0, 0], [80, 0]]"

    def place(value: object) -> tuple[Decimal, ...]:
        numbers = tuple(values.decimal(one) for one in values.array(value, "[80, 0]"))
        if len(numbers) not in sizes:
            wanted = "[x, y]" if len(sizes) == 1 else "[x, y], or a line as [x, y, x, y]"
            raise Unfit(f"a place of {len(numbers)} numbers is none", f"write {wanted}, in mm")
        return numbers

    found = table.each("layout", place, example)
    if "layout" in table and count is not None and table.fine("layout", "axes", "depths"):
        if len(found) != count:
            message = f"there are {len(found)} places for {count} {what}{'s' if count != 1 else ''}"
            table.problem("layout", message, f"give one for each {what}, as layout = {example}")
        elif len(set(found)) < len(found):
            table.problem("layout", "two places are the same", f"give each {what} its own")
    return tuple(tuple(float(one) for one in place) for place in found)
