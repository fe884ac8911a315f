"""Reads the formulas of derived quantities: names, units, circles, and which numbers meet."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

from capture.formula import dimension
from capture.formula.parse import parse
from capture.formula.problem import FormulaError
from capture.formula.tree import Formula, Name
from capture.spec.collection import Collection
from capture.spec.cycle import cycles
from capture.spec.model import Characteristic, Derived, Given, Part, Quantity
from capture.spec.position import apart
from capture.spec.problems import choose, shown
from capture.spec.table import Table

_MINUS = re.compile(r"-")


def read_formula(table: Table, quantity: Quantity) -> Formula | None:
    """The formula in ``table``, parsed; None where it is not to have one, or will not parse."""
    if quantity is not Quantity.FORMULA:
        if "formula" in table:
            message = f'a {quantity.value} has no formula; a quantity is "formula" or has none'
            table.problem("formula", message, "remove quantity, or remove formula")
        return None
    for key in ("of", "basis"):
        if key in table:
            message = f"a formula says by itself what it is made of: {key} has no place here"
            table.problem(key, message, f"remove {key}")
    text = table.text("formula")
    if not text:
        return None
    try:
        return parse(text)
    except FormulaError as error:
        _problem(table, error)
        return None


def _problem(table: Table, error: FormulaError) -> None:
    where = f"at character {error.at + 1} of the formula: " if error.at else ""
    table.problem("formula", f"{where}{error.message}", error.mend)


def relate_formulas(
    written: list[tuple[Table, Derived]],
    parts: Collection[Part],
    sizes: Collection[Characteristic],
    derived: Collection[Derived],
    given: Collection[Given],
) -> None:
    """Checks every formula against what it names, and gives each quantity its sources and part."""
    known = _Known(sizes, derived, given)
    for table, one in written:
        if one.formula is not None:
            known.check(table, one, one.formula)
    graph = {one.id: list(_ids(one, given)) for _, one in written}
    for id_, after in graph.items():
        graph[id_] = [other for other in after if other in graph]
    tables = {one.id: table for table, one in written}
    for circle in cycles(graph):
        message = f"these quantities are made of each other: {choose(circle, joint='and')}"
        if len(circle) == 1:
            message = "this quantity is made of itself"
        tables[circle[0]].problem("formula", message, "take one of the names out of its formula")
        for id_ in circle:
            derived.sound.pop(id_, None)
            graph.pop(id_)
    placed = {one.id: (table, one) for table, one in written}
    for id_ in _sources_first(graph):
        table, one = placed[id_]
        if table.sound and one.formula is not None:
            _place(table, replace(one, of=_ids(one, given)), parts, sizes, derived)


def _ids(one: Derived, given: Collection[Given]) -> tuple[str, ...]:
    """Every characteristic and derived quantity a formula names, once each, in order."""
    names = () if one.formula is None else one.formula.names
    return tuple(dict.fromkeys(name.id for name in names if name.id not in given.declared))


def _sources_first(graph: Mapping[str, list[str]]) -> list[str]:
    """The nodes of a graph without circles, each behind those it waits for."""
    missing = {id_: sum(other in graph for other in after) for id_, after in graph.items()}
    later: dict[str, list[str]] = {}
    for id_, after in graph.items():
        for other in after:
            later.setdefault(other, []).append(id_)
    ready = [id_ for id_, count in missing.items() if not count]
    for id_ in ready:
        for other in later.get(id_, ()):
            missing[other] -= 1
            if not missing[other]:
                ready.append(other)
    return ready


def _place(
    table: Table,
    one: Derived,
    parts: Collection[Part],
    sizes: Collection[Characteristic],
    derived: Collection[Derived],
) -> None:
    """Which part's numbers it is computed for, and whether all it names stands there."""
    found: dict[str, str] = {}
    for id_ in one.of:
        source = sizes.sound.get(id_) or derived.sound.get(id_)
        if source is None or source.part not in parts.sound:
            derived.sound.pop(one.id, None)
            return
        found[id_] = source.part
    if not found:
        message = "the formula names nothing that is measured"
        table.problem(
            "formula", message, "name a characteristic, or declare the value as [[given]]"
        )
        return
    own = max((parts.sound[id_] for id_ in found.values()), key=lambda part: part.count)
    for id_, part in found.items():
        message, mend = apart(own, parts.sound[part])
        if message:
            table.problem("formula", f'"{id_}" does not fit in: {message}', mend)
            return
    derived.sound[one.id] = replace(one, part=own.id)


class _Known:
    """Everything a formula may name."""

    def __init__(
        self,
        sizes: Collection[Characteristic],
        derived: Collection[Derived],
        given: Collection[Given],
    ) -> None:
        self._sizes = sizes
        self._declared = {**sizes.declared, **derived.declared, **given.declared}
        self._units = {
            **{id_: one.unit for id_, one in sizes.sound.items()},
            **{id_: one.unit for id_, one in derived.sound.items()},
            **{id_: one.unit for id_, one in given.sound.items()},
        }

    def check(self, table: Table, one: Derived, formula: Formula) -> None:
        """Notes unknown names and points; where there are none, units that do not fit."""
        named = {name.id: name for name in reversed(formula.names)}
        for name in reversed(named.values()):
            if name.id not in self._declared:
                self._unknown(table, name)
        for name in formula.names:
            if name.point is not None:
                self._check_point(table, name)
        if not table.sound or not all(id_ in self._units for id_ in named):
            table.sound = False
            return
        try:
            dimension.check(formula, self._units.__getitem__, one.unit)
        except FormulaError as error:
            _problem(table, error)

    def _unknown(self, table: Table, name: Name) -> None:
        message = f"there is no quantity called {shown(name.id)}"
        mend = self._minus(name.id)
        if not mend:
            guess = table.nearest(name.id, list(self._declared))
            mend = f'write "{guess}"' if guess else f"declared are {choose(list(self._declared))}"
        _problem(table, FormulaError(name.at, message, mend))

    def _minus(self, word: str) -> str:
        """The mend for ``bore-piston`` where a minus was meant: both sides are known."""
        for match in _MINUS.finditer(word):
            left, right = word[: match.start()], word[match.end() :]
            if left in self._declared and (right in self._declared or not right or right.isdigit()):
                return f'put spaces round the minus: "{left} - {right or "…"}"'
        return ""

    def _check_point(self, table: Table, name: Name) -> None:
        size = self._sizes.sound.get(name.id)
        if size is None:
            if name.id in self._declared and name.id not in self._sizes.declared:
                message = f'"{name.id}" is not measured at points'
                _problem(table, FormulaError(name.at, message, f"write {name.id} alone"))
            return
        points = [point.id for point in size.points]
        if name.point in points:
            return
        message = f'"{name.id}" has no point {shown(name.point)}'
        within = [point.id for point in size.points if name.point in (point.depth, point.axis)]
        if points == [""]:
            mend = f'write {name.id} alone, or add depths or axes to "{name.id}"'
        elif within:
            named = [f"{name.id}[{point}]" for point in within]
            mend = f"write {choose(named)}" + (
                f", or mean({', '.join(named)})" if named[1:] else ""
            )
        else:
            guess = table.nearest(name.point or "", points)
            mend = f"write {name.id}[{guess}]" if guess else f"its points are {choose(points)}"
        _problem(table, FormulaError(name.at, message, mend))
