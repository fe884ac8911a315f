"""How a derived quantity follows from measured sizes: its exact value, and its exact derivative by
every one of them, through other derived quantities that it rests on."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Final, NamedTuple

from capture import shapes, slopes
from capture.belong import counterpart, part_of
from capture.build import Build
from capture.correlation import Sourced, combined, contributions, sourced
from capture.formula.evaluate import Term, evaluate
from capture.formula.tree import Name
from capture.quantity import Number, convert, unit_step
from capture.sized import Fills, Size, sizes_of
from capture.slopes import Slope
from capture.spec.model import Basis, Characteristic, Derived, Point, Quantity
from capture.uncertainty import Budget, Contribution, combine


class Key(NamedTuple):
    """What tells a measured size from every other."""

    characteristic: str
    number: int
    at: int
    """Which of the characteristic's points, from 0."""


class Value(NamedTuple):
    """A derived quantity in its unit, and its derivative by every measured size it rests on, per
    the unit of that size's characteristic."""

    value: Number
    by: Mapping[Key, Slope]


class Item(NamedTuple):
    """A size, or another derived quantity, that goes into a derived quantity."""

    point: Point
    value: Number
    by: Mapping[Key, Slope]


_WHOLE: Final = Point()


class Derivation:
    """One look at a build with ``fills`` seen as if they were there; every quantity once."""

    def __init__(self, build: Build, fills: Fills) -> None:
        self.build = build
        self._spec = build.spec
        self._fills = fills
        self._values: dict[tuple[str, int], Value | None] = {}
        self._sizes: dict[tuple[str, int], dict[Point, Size] | None] = {}
        self._sourced: dict[Key, Sourced | None] = {}

    def value(self, derived: Derived, number: int) -> Value | None:
        """The quantity at a number of its part; None while a size it needs is missing, and where
        its formula divides by zero."""
        key = derived.id, number
        if key not in self._values:
            try:
                self._values[key] = self._compute(derived, number)
            except ArithmeticError:
                self._values[key] = None
        return self._values[key]

    def uncertainty(self, found: Value) -> float | None:
        """Its standard uncertainty; None where that of a size it rests on is not established."""
        terms = self._terms(found)
        return None if terms is None else combined((slope, size) for _, slope, size in terms)

    def budget(self, found: Value) -> Budget | None:
        """The same line by line: what its sizes share by source, and what is each one's own."""
        terms = self._terms(found)
        if terms is None:
            return None
        named = ((self._named(key), slope, size) for key, slope, size in terms)
        return combine(Contribution(name, u, math.inf) for name, u in contributions(named))

    def _terms(self, found: Value) -> list[tuple[Key, Slope, Sourced]] | None:
        terms = []
        for key, slope in found.by.items():
            size = self._sourced[key]
            if size is None:
                return None
            if slope:
                terms.append((key, slope, size))
        return terms

    def _named(self, key: Key) -> str:
        point = self._spec.characteristics[key.characteristic].points[key.at].id
        where = f"{key.characteristic}/{key.number}"
        return f"{where}/{point}" if point else where

    def items(self, name: str, part: str, number: int, unit: str | None) -> list[Item] | None:
        """What ``name`` brings to a number of ``part``, in ``unit`` (its own where None); None
        while any of it is missing."""
        found: list[Item] = []
        for at in counterpart(self._spec, part, number, part_of(self._spec, name)):
            here = self._items_at(name, at, unit)
            if here is None:
                return None
            found += here
        return found or None

    def _items_at(self, name: str, number: int, unit: str | None) -> list[Item] | None:
        one = self._spec.characteristics.get(name)
        if one is None:
            other = self._spec.derived[name]
            value = self.value(other, number)
            return None if value is None else [_in_unit(_WHOLE, *value, other.unit, unit)]
        sizes = self._sizes_at(one, number)
        if sizes is None:
            return None
        return [
            _in_unit(point, size.value, {Key(name, number, at): 1}, one.unit, unit)
            for at, (point, size) in enumerate(sizes.items())
        ]

    def _sizes_at(self, one: Characteristic, number: int) -> dict[Point, Size] | None:
        key = one.id, number
        if key not in self._sizes:
            sizes = sizes_of(self.build, one, number, self._fills, one.unit)
            self._sizes[key] = sizes
            for at, size in enumerate(sizes.values() if sizes else ()):
                known = None if size.u is None else sourced(size.u, size.shared)
                self._sourced[Key(one.id, number, at)] = known
        return self._sizes[key]

    def _compute(self, derived: Derived, number: int) -> Value | None:
        formula = derived.quantity is Quantity.FORMULA
        part = part_of(self._spec, derived.id)
        sets: dict[str, list[Item]] = {}
        for name in derived.of:
            found = self.items(name, part, number, None if formula else derived.unit)
            if found is None:
                return None
            sets[name] = found
        if formula:
            return self._formula(derived, sets)
        if derived.quantity is Quantity.CLEARANCE:
            outer, inner = (sets[name] for name in derived.of)
            return _clearance(outer, inner, derived.basis)
        (items,) = sets.values()
        return _mean(items) if derived.quantity is Quantity.MEAN else _form(items, derived.quantity)

    def _formula(self, derived: Derived, sets: Mapping[str, list[Item]]) -> Value:
        assert derived.formula is not None
        given = self._spec.given

        def terms(name: Name) -> list[Term]:
            if name.id in given:
                return [Term(name.id, given[name.id].value)]
            return [
                Term((name.id, at), item.value)
                for at, item in enumerate(sets[name.id])
                if name.point in (None, item.point.id)
            ]

        value, by = evaluate(derived.formula, terms, self._unit_of, derived.unit)
        rates = (
            (by.get((name, at), 0), item)
            for name, items in sets.items()
            for at, item in enumerate(items)
        )
        return Value(value, _chained(rates))

    def _unit_of(self, name: str) -> str:
        spec = self._spec
        return (spec.characteristics.get(name) or spec.derived.get(name) or spec.given[name]).unit


def _in_unit(
    point: Point, value: Number, by: Mapping[Key, Slope], unit: str, to: str | None
) -> Item:
    if to is None or unit == to:
        return Item(point, value, by)
    step = unit_step(unit, to)
    return Item(point, convert(value, unit, to), {key: slope * step for key, slope in by.items()})


def _chained(rates: Iterable[tuple[Slope, Item]]) -> dict[Key, Slope]:
    """Derivatives by measured sizes, from those by the items that rest on them."""
    found: dict[Key, Slope] = {}
    for rate, item in rates:
        for key, slope in item.by.items():
            more = rate if slope == 1 else rate * slope
            found[key] = found[key] + more if key in found else more
    return found


def _mean(items: list[Item]) -> Value:
    rate = slopes.mean(len(items))
    value = shapes.mean([item.value for item in items])
    return Value(value, _chained((rate, item) for item in items))


def _clearance(outer: list[Item], inner: list[Item], basis: Basis) -> Value:
    outside = {at: item.value for at, item in enumerate(outer)}
    inside = {at: item.value for at, item in enumerate(inner)}
    value = shapes.clearance(list(outside.values()), list(inside.values()), basis)
    by_outer, by_inner = slopes.clearance(outside, inside, basis)
    rates = [
        *zip(by_outer.values(), outer, strict=True),
        *zip(by_inner.values(), inner, strict=True),
    ]
    return Value(value, _chained(rates))


_SHAPES: Final = {
    Quantity.TAPER: (shapes.taper, slopes.taper),
    Quantity.OUT_OF_ROUND: (shapes.out_of_round, slopes.out_of_round),
    Quantity.CYLINDRICITY: (shapes.cylindricity, slopes.cylindricity),
}


def _form(items: list[Item], quantity: Quantity) -> Value:
    shape, slope = _SHAPES[quantity]
    sizes = {item.point: item.value for item in items}
    by = slope(sizes)
    return Value(shape(sizes), _chained((by[item.point], item) for item in items))
