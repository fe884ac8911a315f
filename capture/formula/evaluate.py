"""The exact value of a formula, and how it changes with every size in it.

Everything is a ``Fraction``: no digit depends on the platform. Derivatives are carried along with
the values (forward mode): each operation knows the derivative of its result from those of its
operands, by the rules of sum, product and quotient. So they are exact too, and an uncertainty can
be propagated through any formula (JCGM 100, 5.1).

Where a formula has no derivative one side is taken: of several equal ones ``min`` and ``max``
follow the first, ``range`` the first largest and the last smallest, and ``abs`` of nothing counts
as positive.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from fractions import Fraction
from typing import NamedTuple

from capture.formula.dimension import base
from capture.formula.tree import Call, Formula, Literal, Name, Node, Operation
from capture.quantity import Number, exact


class Term(NamedTuple):
    """One measured size, in the unit of the name it belongs to."""

    key: Hashable
    """What tells it from every other size: the same size under two names has one key."""
    value: Number


Slopes = dict[Hashable, Fraction]
"""Derivative by each term, by its key; zero where a term is missing."""


class _Value(NamedTuple):
    value: Fraction
    slopes: Slopes


def evaluate(
    formula: Formula,
    terms: Callable[[Name], Sequence[Term]],
    unit_of: Callable[[str], str],
    unit: str,
) -> tuple[Number, Slopes]:
    """The value of ``formula`` in ``unit``, and its derivative by every term.

    ``terms`` gives the sizes a name stands for (one at each point, or the one at ``name.point``);
    ``unit_of`` the unit of a name. A derivative is in ``unit`` per the term's own unit. Every term
    asked for is among the derivatives, with zero where the value does not depend on it.

    ``formula`` must have passed ``capture.formula.dimension.check`` for these units. Raises
    ArithmeticError where it divides by zero, ValueError where ``terms`` gives none for a name.
    """
    found = _Evaluation(terms, unit_of)
    value, slopes = found.of(formula.root)
    _, scale = base(unit)
    every = {key: slopes.get(key, Fraction(0)) / scale for key in found.keys}
    return exact(value / scale), every


class _Evaluation:
    """One walk over the tree, in base units."""

    def __init__(
        self, terms: Callable[[Name], Sequence[Term]], unit_of: Callable[[str], str]
    ) -> None:
        self._terms = terms
        self._unit_of = unit_of
        self.keys: dict[Hashable, None] = {}

    def of(self, node: Node) -> _Value:
        if isinstance(node, Literal):
            return _Value(node.value, {})
        if isinstance(node, Name):
            return _mean(self._points(node))
        if isinstance(node, Call):
            return self._call(node)
        if node.left is None:
            return _times(self.of(node.right), Fraction(-1))
        return self._operation(node, self.of(node.left))

    def _points(self, name: Name) -> list[_Value]:
        terms = self._terms(name)
        if not terms:
            raise ValueError(f'there is no size for "{name.id}" to compute with')
        _, scale = base(self._unit_of(name.id))
        found = []
        for term in terms:
            self.keys[term.key] = None
            found.append(_Value(Fraction(term.value) * scale, {term.key: scale}))
        return found

    def _call(self, node: Call) -> _Value:
        first = node.arguments[0]
        if len(node.arguments) == 1 and isinstance(first, Name):
            values = self._points(first)
        else:
            values = [self.of(one) for one in node.arguments]
        if node.function == "mean":
            return _mean(values)
        if node.function == "abs":
            one = _mean(values)
            return one if one.value >= 0 else _times(one, Fraction(-1))
        if node.function == "min":
            return min(values, key=_value)
        if node.function == "max":
            return max(values, key=_value)
        least = min(reversed(values), key=_value)  # of equal ones not the same as the largest
        return _sum(max(values, key=_value), _times(least, Fraction(-1)))

    def _operation(self, node: Operation, left: _Value) -> _Value:
        right = self.of(node.right)
        if node.sign == "+":
            return _sum(left, right)
        if node.sign == "-":
            return _sum(left, _times(right, Fraction(-1)))
        if node.sign == "*":
            return _product(left, right)
        if node.sign == "/":
            return _quotient(left, right)
        return _power(left, int(right.value))


def _value(one: _Value) -> Fraction:
    return one.value


def _times(one: _Value, factor: Fraction) -> _Value:
    return _Value(one.value * factor, {key: slope * factor for key, slope in one.slopes.items()})


def _sum(one: _Value, other: _Value) -> _Value:
    return _Value(one.value + other.value, _added(one.slopes, other.slopes))


def _added(one: Slopes, other: Slopes) -> Slopes:
    together = dict(one)
    for key, slope in other.items():
        together[key] = together[key] + slope if key in together else slope
    return together


def _mean(values: Sequence[_Value]) -> _Value:
    total = values[0]
    for one in values[1:]:
        total = _sum(total, one)
    return total if len(values) == 1 else _times(total, Fraction(1, len(values)))


def _product(one: _Value, other: _Value) -> _Value:
    slopes = _added(_times(one, other.value).slopes, _times(other, one.value).slopes)
    return _Value(one.value * other.value, slopes)


def _quotient(one: _Value, other: _Value) -> _Value:
    if not other.value:
        raise ArithmeticError("the formula divides by a quantity that is zero")
    return _product(one, _power(other, -1))


def _power(one: _Value, power: int) -> _Value:
    if power == 0:
        return _Value(Fraction(1), {})
    if power < 0 and not one.value:
        raise ArithmeticError("the formula divides by a quantity that is zero")
    rise = power * one.value ** (power - 1)
    return _Value(one.value**power, {key: slope * rise for key, slope in one.slopes.items()})
