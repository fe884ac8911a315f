"""Warnings about temperature: sizes at 20 °C taken together with sizes as they were measured."""

from __future__ import annotations

from collections.abc import Iterator

from capture.formula.tree import Call, Literal, Name, Node, Operation
from capture.quantity import dimension
from capture.spec.model import Derived, Quantity, Spec
from capture.spec.problems import Problems, choose


def advise(spec: Spec, problems: Problems) -> None:
    """Notes every derived quantity of ``spec`` that takes a difference or a sum of such sizes.

    Steel 10 °C too warm is about 0.01 mm in 100 mm too large (11.5 · 10⁻⁶ per °C); a difference
    from a size at 20 °C is wrong by all of that. In a product it changes only its own share, so
    nothing is said there.
    """
    for index, one in enumerate(spec.derived.values()):
        for sizes in _together(spec, one):
            warm = {id_: spec.characteristics[id_].expansion is None for id_ in sizes}
            if len(set(warm.values())) == 2:
                plain = _quoted(id_ for id_, as_measured in warm.items() if as_measured)
                corrected = _quoted(id_ for id_, as_measured in warm.items() if not as_measured)
                message = f'"{one.id}" takes {corrected} at 20 °C, and {plain} as warm as measured'
                mend = f"give {plain} an expansion as well, or take that of {corrected} away"
                key = "of" if one.formula is None else "formula"
                problems.add(("derived", index, key), message, mend)
                break


def _together(spec: Spec, one: Derived) -> Iterator[list[str]]:
    """The characteristics that ``one`` adds, subtracts or compares, for each place where it
    does."""
    if one.quantity is Quantity.CLEARANCE:
        yield list(one.of)
    elif one.formula is not None:
        for node in _sums(one.formula.root):
            yield list(dict.fromkeys(_sizes(spec, node)))


def _sums(node: Node) -> Iterator[Node]:
    """Every node of the tree in which terms meet, the outer ones first."""
    inner: tuple[Node | None, ...] = ()
    if isinstance(node, Operation):
        inner = (node.left, node.right)
        if node.sign in "+-" and node.left is not None:
            yield node
    elif isinstance(node, Call):
        inner = node.arguments
        if len(inner) > 1:
            yield node
    for each in inner:
        if each is not None:
            yield from _sums(each)


def _sizes(spec: Spec, node: Node) -> Iterator[str]:
    """The measured lengths that stand as terms in ``node``, alone or times a plain number."""
    if isinstance(node, Name):
        yield from _named(spec, node.id)
    elif isinstance(node, Call):
        if node.function != "range":
            for each in node.arguments:
                yield from _sizes(spec, each)
    elif isinstance(node, Operation):
        parts = [each for each in (node.left, node.right) if each is not None]
        factors = [each for each in parts if not isinstance(each, Literal)]
        if node.sign in "+-" or (node.sign in "*/" and len(factors) == 1):
            for each in parts:
                yield from _sizes(spec, each)


def _named(spec: Spec, id_: str) -> Iterator[str]:
    """``id_`` itself where it is a measured length; of derived ones a mean's size, or the terms of
    a formula. A clearance or a taper is too small for its warmth to matter."""
    size, derived = spec.characteristics.get(id_), spec.derived.get(id_)
    if size is not None and dimension(size.unit) == "length":
        yield id_
    elif derived is not None and derived.quantity is Quantity.MEAN:
        yield from _named(spec, derived.of[0])
    elif derived is not None and derived.formula is not None:
        yield from _sizes(spec, derived.formula.root)


def _quoted(ids: Iterator[str]) -> str:
    return choose([f'"{id_}"' for id_ in ids], joint="and")
