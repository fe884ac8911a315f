"""Reads ``[[derived]]``: quantities computed from measured sizes."""

from __future__ import annotations

from dataclasses import replace

from capture.spec import limits
from capture.spec.collection import Collection
from capture.spec.limits import measures, span
from capture.spec.model import Basis, Characteristic, Derived, Given, Part, Quantity
from capture.spec.position import apart
from capture.spec.read_formula import read_formula, relate_formulas
from capture.spec.read_given import DIMENSIONS as FORMULA_DIMENSIONS
from capture.spec.read_sizes import DIMENSIONS
from capture.spec.table import Table

KEYS = (
    "id",
    "title",
    "quantity",
    "of",
    "basis",
    "formula",
    "unit",
    *limits.PLAIN_KEYS,
    "target",
    "cautions",
)


def read_derived(
    document: Table,
    parts: Collection[Part],
    sizes: Collection[Characteristic],
    given: Collection[Given],
) -> Collection[Derived]:
    """Every derived quantity the file declares."""
    derived: Collection[Derived] = Collection("derived quantity")
    formulas: list[tuple[Table, Derived]] = []
    for table in document.tables("derived", KEYS):
        id_ = table.word("id")
        derived.claim(table, id_, [sizes, given])
        default = Quantity.FORMULA if "formula" in table else None
        quantity = table.choice("quantity", Quantity, default)
        meant = table.content.get("quantity", quantity) == quantity
        one = Derived(
            id=id_,
            title=table.line("title"),
            quantity=quantity,
            of=table.words("of"),
            unit=limits.unit(table, _dimensions(default or quantity)),
            limits=limits.plain_limits(table),
            basis=table.choice("basis", Basis, Basis.MEAN),
            cautions=table.texts("cautions"),
            formula=read_formula(table, quantity) if meant else None,
            target=table.optional_number("target"),
        )
        _check_target(table, one)
        if quantity is Quantity.FORMULA:
            formulas.append((table, one))
        elif meant and default is None:
            one = _relate(table, one, parts, sizes, derived)
        if table.sound:
            derived.sound[id_] = one
    relate_formulas(formulas, parts, sizes, derived, given)
    return derived


def _dimensions(quantity: Quantity) -> tuple[str, ...]:
    if quantity is Quantity.FORMULA:
        return FORMULA_DIMENSIONS
    return DIMENSIONS if quantity is Quantity.MEAN else ("length",)


def _check_target(table: Table, one: Derived) -> None:
    target, bounds = one.target, one.limits
    if target is None or not table.sound:
        return
    too_small = bounds.lower is not None and target < bounds.lower
    too_large = bounds.upper is not None and target > bounds.upper
    if too_small or too_large:
        message = f"the target {target:f} lies outside its limits {span(bounds)}"
        table.problem("target", message, "correct the target or the limits")


def _relate(
    table: Table,
    one: Derived,
    parts: Collection[Part],
    sizes: Collection[Characteristic],
    derived: Collection[Derived],
) -> Derived:
    """Checks what the quantity is derived from, and gives it its part."""
    sources = _sources(table, one.of, sizes, derived)
    if not _counted(table, one) or None in sources:
        return one
    found = [source for source in sources if source is not None]
    for source in found:
        if one.unit and measures(source.unit) != measures(one.unit):
            message = f'"{source.id}" is in {source.unit}, which cannot be given in {one.unit}'
            table.problem("unit", message, f'write "{source.unit}"')
    if one.quantity is Quantity.CLEARANCE:
        _match(table, found[0], found[1], parts)
    elif "basis" in table:
        table.problem("basis", "only a clearance has a basis", "remove it")
    if one.quantity in (Quantity.TAPER, Quantity.CYLINDRICITY):
        _spread(table, one, found[0], "depths", {point.depth for point in found[0].points})
    elif one.quantity is Quantity.OUT_OF_ROUND:
        _spread(table, one, found[0], "axes", {point.axis for point in found[0].points})
    return replace(one, part=most_numbers([source.part for source in found], parts))


def most_numbers(of: list[str], parts: Collection[Part]) -> str:
    """The first of these parts of which there are most."""
    known = [id_ for id_ in of if id_ in parts.sound]
    return max(known, key=lambda id_: parts.sound[id_].count, default="")


def _sources(
    table: Table,
    of: tuple[str, ...],
    sizes: Collection[Characteristic],
    derived: Collection[Derived],
) -> list[Characteristic | None]:
    sources: list[Characteristic | None] = []
    for id_ in of:
        if id_ in derived.declared and id_ not in sizes.declared:
            message = f'"{id_}" is itself derived'
            mend = "name the characteristics that are measured, or write a formula"
            table.problem("of", message, mend)
            sources.append(None)
        else:
            sources.append(sizes.find(table, "of", id_))
    return sources


def _counted(table: Table, one: Derived) -> bool:
    wanted = 2 if one.quantity is Quantity.CLEARANCE else 1
    if len(one.of) == wanted:
        return True
    what = ("one characteristic", "two characteristics, the outer first")[wanted - 1]
    example = ('of = ["bore"]', 'of = ["bore", "piston"]')[wanted - 1]
    message = f"a {one.quantity.value} is derived from {what}; {len(one.of)} are named"
    table.problem("of", message, f"name {what}, as {example}")
    return False


def _match(
    table: Table, outer: Characteristic, inner: Characteristic, parts: Collection[Part]
) -> None:
    """The two parts of a clearance must stand in the same positions, place for place."""
    one, other = parts.sound.get(outer.part), parts.sound.get(inner.part)
    if one is None or other is None:
        return
    message, mend = apart(one, other)
    if one.position != other.position:
        message, mend = apart(replace(one, count=2), replace(other, count=2))
    if message:
        table.problem("of", message, mend)


def _spread(
    table: Table, one: Derived, source: Characteristic, words: str, found: set[str]
) -> None:
    if len(found) < 2:
        article = "an" if one.quantity is Quantity.OUT_OF_ROUND else "a"
        message = f'{article} {one.quantity} needs "{source.id}" measured at two {words} or more'
        table.problem("of", message, f'add {words} = ["…", "…"] to "{source.id}"')
