"""Units in formulas: what a product or quotient of sizes measures, and whether a sum makes sense.

A unit is a product of powers of five base units (mm, N, g, °, and one temperature) times an exact
number: 1 mL is 1000 mm³, 1 N·m is 1000 N·mm, 1 MPa is 1 N/mm². ``1`` is the unit of a ratio.

Temperatures stand apart because their scales have an offset: they may be added, subtracted,
compared, averaged and multiplied by bare numbers, all in one unit, which is that of the result.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from functools import lru_cache
from typing import Final, NamedTuple

from capture import quantity, units
from capture.formula.problem import FormulaError
from capture.formula.tree import Call, Formula, Literal, Name, Node, Operation

RATIO: Final = "1"
"""The unit of a ratio: our name for no unit at all."""


class Dimension(NamedTuple):
    """Powers of the base units."""

    length: int = 0
    force: int = 0
    mass: int = 0
    angle: int = 0
    temperature: int = 0


NONE: Final = Dimension()
_BASES: Final[dict[str, tuple[Dimension, str, Fraction]]] = {
    "length": (Dimension(length=1), "mm", Fraction(1)),
    "volume": (Dimension(length=3), "mm³", Fraction(1)),
    "force": (Dimension(force=1), "N", Fraction(1)),
    "torque": (Dimension(length=1, force=1), "N·m", Fraction(1000)),
    "pressure": (Dimension(length=-2, force=1), "MPa", Fraction(1)),
    "mass": (Dimension(mass=1), "g", Fraction(1)),
    "angle": (Dimension(angle=1), "°", Fraction(1)),
    "temperature": (Dimension(temperature=1), "", Fraction(1)),
}
"""What a unit measures → its dimension, a unit of it, and that unit in base units."""
_NAMED: Final = {dimension: name for name, (dimension, _, _) in _BASES.items()}


@lru_cache(maxsize=256)
def base(unit: str) -> tuple[Dimension, Fraction]:
    """The dimension of ``unit`` and how many base units it is (1 for a temperature: never
    converted). Raises UnitError where it is unknown."""
    if unit == RATIO:
        return NONE, Fraction(1)
    name = quantity.unit_name(unit)
    dimension, to, scale = _BASES[units.DIMENSIONS[name]]
    return dimension, quantity.factor(name, to) * scale if to else scale


def said(dimension: Dimension) -> str:
    """``length``, ``volume``, ``a ratio``; what has no name as powers: ``length^2``."""
    if dimension == NONE:
        return "a bare number"
    name = _NAMED.get(dimension)
    if name is not None:
        return f"{'an' if name == 'angle' else 'a'} {name}"
    parts = []
    for word, power in zip(Dimension._fields, dimension, strict=True):
        if power:
            parts.append(word if power == 1 else f"{word}^{power}")
    return " · ".join(parts)


def check(formula: Formula, unit_of: Callable[[str], str], unit: str) -> None:
    """Raises FormulaError where ``formula`` adds unlike quantities or does not give ``unit``.

    ``unit_of`` gives the unit of every name in it.
    """
    found = _Units(unit_of).of(formula.root)
    wanted, _ = base(unit)
    if found != wanted:
        message = f"the formula gives {said(found)}, but the unit {unit} is of {said(wanted)}"
        raise FormulaError(0, message, "correct the unit, or the formula")
    if wanted.temperature:
        for name in formula.names:
            if (other := unit_of(name.id)) != unit and base(other)[0].temperature:
                message = f'"{name.id}" is in {other} but the result in {unit}'
                mend = f"give all temperatures of a formula in one unit, as {other}"
                raise FormulaError(name.at, message, mend)


def measures(formula: Formula, unit_of: Callable[[str], str]) -> Dimension:
    """What ``formula`` measures. Raises FormulaError where it adds unlike quantities."""
    return _Units(unit_of).of(formula.root)


class _Units:
    def __init__(self, unit_of: Callable[[str], str]) -> None:
        self._unit_of = unit_of

    def of(self, node: Node) -> Dimension:
        if isinstance(node, Literal):
            return NONE
        if isinstance(node, Name):
            return base(self._unit_of(node.id))[0]
        if isinstance(node, Call):
            return self._alike(node.arguments, node.at, f"{node.function}(…) takes together")
        if node.left is None:
            return self.of(node.right)
        if node.sign in "+-":
            verb = "+ adds" if node.sign == "+" else "- subtracts"
            return self._alike((node.left, node.right), node.at, verb)
        return self._product(node, node.left)

    def _alike(self, nodes: tuple[Node, ...], at: int, verb: str) -> Dimension:
        first = self.of(nodes[0])
        for node in nodes[1:]:
            other = self.of(node)
            if other != first:
                message = f"{verb} {said(first)} and {said(other)}"
                mend = "take like with like"
                if NONE in (first, other):
                    mend = "give the number a unit: declare it as [[given]] and write its id"
                raise FormulaError(at, message, mend)
        return first

    def _product(self, node: Operation, left: Node) -> Dimension:
        one = self.of(left)
        if node.sign == "^":
            assert isinstance(node.right, Literal)
            power = int(node.right.value)
            self._no_temperature(node, one, NONE, harmless=power == 1)
            return Dimension(*(part * power for part in one))
        other = self.of(node.right)
        by_number = other == NONE or (one == NONE and node.sign == "*")
        self._no_temperature(node, one, other, harmless=by_number)
        side = 1 if node.sign == "*" else -1
        return Dimension(*(a + side * b for a, b in zip(one, other, strict=True)))

    @staticmethod
    def _no_temperature(
        node: Operation, one: Dimension, other: Dimension, *, harmless: bool
    ) -> None:
        if (one.temperature or other.temperature) and not harmless:
            message = "a temperature is multiplied or divided, which its scale has no meaning for"
            raise FormulaError(node.at, message, "add, subtract, compare or average temperatures")
