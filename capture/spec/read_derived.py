"""Reads ``[[derived]]``: quantities computed from measured sizes."""

from __future__ import annotations

from capture.quantity import dimension
from capture.spec import limits
from capture.spec.collection import Collection
from capture.spec.model import Basis, Characteristic, Derived, Part, Quantity
from capture.spec.read_sizes import DIMENSIONS
from capture.spec.table import Table

KEYS = ("id", "title", "quantity", "of", "basis", "unit", *limits.PLAIN_KEYS, "cautions")


def read_derived(
    document: Table, parts: Collection[Part], sizes: Collection[Characteristic]
) -> Collection[Derived]:
    """Every derived quantity the file declares."""
    derived: Collection[Derived] = Collection("derived quantity")
    for table in document.tables("derived", KEYS):
        id_ = table.word("id")
        derived.claim(table, id_, [sizes])
        quantity = table.choice("quantity", Quantity)
        one = Derived(
            id=id_,
            title=table.line("title"),
            quantity=quantity,
            of=table.words("of"),
            unit=limits.unit(table, DIMENSIONS if quantity is Quantity.MEAN else ("length",)),
            limits=limits.plain_limits(table),
            basis=table.choice("basis", Basis, Basis.MEAN),
            cautions=table.texts("cautions"),
        )
        if table.content.get("quantity") == quantity:
            _relate(table, one, parts, sizes, derived)
        if table.sound:
            derived.sound[id_] = one
    return derived


def _relate(
    table: Table,
    one: Derived,
    parts: Collection[Part],
    sizes: Collection[Characteristic],
    derived: Collection[Derived],
) -> None:
    """Checks what the quantity is derived from."""
    sources = _sources(table, one.of, sizes, derived)
    if not _counted(table, one) or None in sources:
        return
    found = [source for source in sources if source is not None]
    for source in found:
        if one.unit and dimension(source.unit) != dimension(one.unit):
            message = f'"{source.id}" is in {source.unit}, which cannot be given in {one.unit}'
            table.problem("unit", message, f'write "{source.unit}"')
    if one.quantity is Quantity.CLEARANCE:
        _match(table, found[0], found[1], parts)
    elif "basis" in table:
        table.problem("basis", "only a clearance has a basis", "remove it")
    if one.quantity is Quantity.TAPER:
        _spread(table, found[0], "depths", {point.depth for point in found[0].points})
    elif one.quantity is Quantity.OUT_OF_ROUND:
        _spread(table, found[0], "axes", {point.axis for point in found[0].points})


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
            table.problem("of", message, "name the characteristics that are measured")
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
    """The two parts of a clearance must stand in the same positions, number for number."""
    one, other = parts.sound.get(outer.part), parts.sound.get(inner.part)
    if one is None or other is None:
        return
    if one.position != other.position:
        message = (
            f'"{one.id}" is counted by {one.position} and "{other.id}" by {other.position}, '
            "so no number of one belongs to a number of the other"
        )
        table.problem("of", message, f'give both parts the same position, as "{one.position}"')
    elif one.count != other.count:
        message = f'there are {one.count} of "{one.id}" but {other.count} of "{other.id}"'
        table.problem("of", message, "correct the count of one of the parts")


def _spread(table: Table, source: Characteristic, words: str, found: set[str]) -> None:
    if len(found) < 2:
        what = {"depths": "a taper", "axes": "an out-of-round"}[words]
        message = f'{what} needs "{source.id}" measured at two {words} or more'
        table.problem("of", message, f'add {words} = ["…", "…"] to "{source.id}"')
