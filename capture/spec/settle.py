"""Settles what one size follows from another: limits by factor, in the order they depend, and
the temperatures that sizes are corrected by."""

from __future__ import annotations

from dataclasses import replace

from capture.spec.collection import Collection
from capture.spec.cycle import cycles
from capture.spec.model import Characteristic, Derived, Part, Quantity
from capture.spec.position import apart
from capture.spec.problems import choose, shown
from capture.spec.read_expansion import check_expansion
from capture.spec.read_factors import settled, source_band
from capture.spec.table import Table

Written = list[tuple[Table, Characteristic]]


def settle(
    written: Written,
    sizes: Collection[Characteristic],
    derived: Collection[Derived],
    parts: Collection[Part],
) -> None:
    """Puts every size of ``written`` into ``sizes`` with its limits, or notes why not."""
    waiting = {size.id: (table, size) for table, size in written if size.factors}
    _take_out_circles(waiting, sizes, derived)
    for start in list(waiting):
        chain = [start] if start in waiting else []
        while chain:
            before = _needed(chain[-1], sizes, derived)
            if before in waiting and before not in chain:
                chain.append(before)
            else:
                table, size = waiting.pop(chain.pop())
                _settle(table, size, sizes, derived, parts)
    for table, size in written:
        check_expansion(table, size, sizes, parts)


def _take_out_circles(
    waiting: dict[str, tuple[Table, Characteristic]],
    sizes: Collection[Characteristic],
    derived: Collection[Derived],
) -> None:
    graph: dict[str, list[str]] = {
        id_: [size.factors.of] if size.factors else [] for id_, size in sizes.sound.items()
    }
    graph.update({id_: list(one.of) for id_, one in derived.sound.items()})
    for id_, after in graph.items():
        graph[id_] = [other for other in after if other in graph]
    for circle in cycles(graph):
        found = [id_ for id_ in circle if id_ in waiting]
        for id_ in found:
            table, _ = waiting.pop(id_)
            if id_ == found[0]:
                message = (
                    f"the limits would follow from the size itself ({choose(circle, joint='and')})"
                )
                mend = "name a size that does not depend on this one"
                table.problem("factor_of", message, mend)


def _needed(
    id_: str, sizes: Collection[Characteristic], derived: Collection[Derived]
) -> str | None:
    """The characteristic whose plausible band tells how large the limits of ``id_`` can become."""
    factors = sizes.sound[id_].factors
    assert factors is not None
    source = derived.sound.get(factors.of)
    if source is None:
        return factors.of
    return source.of[0] if source.quantity is Quantity.MEAN else None


def _settle(
    table: Table,
    size: Characteristic,
    sizes: Collection[Characteristic],
    derived: Collection[Derived],
    parts: Collection[Part],
) -> None:
    source = _source(table, size, sizes, derived)
    if source is None:
        return
    own, other = parts.sound.get(size.part), parts.sound.get(source.part)
    if own is not None and other is not None:
        message, mend = apart(own, other)
        if message:
            table.problem("factor_of", message, mend)
            return
    band = source_band(source, sizes.sound)
    if band is None:
        message = f'nothing tells how large "{source.id}" can become'
        mend = "state both its limits, or name a characteristic"
        table.problem("factor_of", message, mend)
        return
    if band.lower is None:  # what is wrong with the source is noted there
        table.sound = False
        return
    assert size.factors is not None
    limits, plausible = settled(table, size.factors, size.unit, source, band)
    sizes.sound[size.id] = replace(size, limits=limits, plausible=plausible)


def _source(
    table: Table,
    size: Characteristic,
    sizes: Collection[Characteristic],
    derived: Collection[Derived],
) -> Characteristic | Derived | None:
    """What the limits of ``size`` follow from; None after noting that there is no such thing."""
    assert size.factors is not None
    of = size.factors.of
    source = sizes.sound.get(of) or derived.sound.get(of)
    if source is None and of not in sizes.declared and of not in derived.declared:
        known = [*sizes.declared, *derived.declared]
        guess = table.nearest(of, known)
        mend = f'write "{guess}"' if guess else f"declared are {choose(known)}"
        message = f"there is no characteristic or derived quantity called {shown(of)}"
        table.problem("factor_of", message, mend)
    return source
