"""A formula as a model to propagate through: over numbers, or over arrays of draws.

``capture.formula.evaluate`` gives a formula's exact value; this gives the same function in floats,
for ``capture.propagation``. Of a quantity with several points a bare name is one input here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from capture.formula.dimension import base
from capture.formula.tree import Call, Formula, Literal, Name, Node
from capture.propagation import Model


def inputs_of(formula: Formula) -> tuple[str, ...]:
    """What goes into a formula, each once in the order of the text: ``bore`` or ``bore[top]``."""
    return tuple(dict.fromkeys(_input(name) for name in formula.names))


def model_of(formula: Formula, unit_of: Callable[[str], str], unit: str) -> Model:
    """The formula as a function of the values of ``inputs_of``, each in its own unit, in that
    order; its value is in ``unit``.

    ``formula`` must have passed ``capture.formula.dimension.check`` for these units. Raises
    UnitError for an unknown unit. The model divides by zero as floats do: where that may happen the
    propagation refuses it.
    """
    order = {name: at for at, name in enumerate(inputs_of(formula))}
    scales = {_input(name): float(base(unit_of(name.id))[1]) for name in formula.names}
    whole = float(base(unit)[1])

    def model(values: Sequence[Any]) -> Any:
        given = {name: values[at] * scales[name] for name, at in order.items()}
        return _value(formula.root, given) / whole

    return model


def _input(name: Name) -> str:
    return name.id if name.point is None else f"{name.id}[{name.point}]"


def _value(node: Node, given: dict[str, Any]) -> Any:
    if isinstance(node, Literal):
        return float(node.value)
    if isinstance(node, Name):
        return given[_input(node)]
    if isinstance(node, Call):
        return _call(node.function, [_value(one, given) for one in node.arguments])
    right = _value(node.right, given)
    if node.left is None:
        return -right
    left = _value(node.left, given)
    if node.sign == "+":
        return left + right
    if node.sign == "-":
        return left - right
    if node.sign == "*":
        return left * right
    if node.sign == "/":
        return _quotient(left, right)
    power = int(right)
    return left**power if power >= 0 else _quotient(1.0, left**-power)


def _quotient(left: Any, right: Any) -> Any:
    import numpy as np

    with np.errstate(divide="ignore", invalid="ignore"):
        return np.divide(left, right)


def _call(function: str, values: list[Any]) -> Any:
    import numpy as np

    if function == "abs":
        return np.abs(values[0])
    if function == "mean":
        return sum(values) / len(values)
    largest, smallest = values[0], values[0]
    for one in values[1:]:
        largest, smallest = np.maximum(largest, one), np.minimum(smallest, one)
    if function == "range":
        return largest - smallest
    return largest if function == "max" else smallest
