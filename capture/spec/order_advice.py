"""Warnings about the order of work: what comes too early, or is never closed."""

from __future__ import annotations

from collections.abc import Iterable

from capture.spec.lines import Path
from capture.spec.model import Characteristic, Kind, Operation, Spec
from capture.spec.problems import Problems, choose


def advise(spec: Spec, problems: Problems) -> None:
    """Notes in ``problems`` what the order of work of ``spec`` leaves open."""
    _follow(spec, problems)
    _zeros(spec, problems)
    _yielded(spec, problems)


def _follow(spec: Spec, problems: Problems) -> None:
    """A size is judged (or corrected) by another that has to be there before it."""
    measured = {
        one.subject: (index, one)
        for index, one in enumerate(spec.operations)
        if one.kind is Kind.MEASURE
    }
    places = {id_: ("characteristic", index) for index, id_ in enumerate(spec.characteristics)}
    behind = _Behind(spec.operations)
    for id_, (index, operation) in measured.items():
        size = spec.characteristics[id_]
        for path, source, why in _sources(spec, size, places[id_]):
            before = measured.get(source)
            if before is None:
                message = f'{why} "{source}", which is never measured'
                problems.add(path, message, f'add an operation that measures "{source}"')
            elif before[1].id not in behind.of(operation):
                message = (
                    f'"{operation.id}" does not wait for "{before[1].id}", but {why} "{source}"'
                )
                mend = f'add "{before[1].id}" to its after'
                problems.add(("operation", index), message, mend)


def _sources(spec: Spec, size: Characteristic, place: Path) -> Iterable[tuple[Path, str, str]]:
    """Key path, id of a characteristic, and what ``size`` needs it for."""
    if size.factors is not None:
        why = f'the limits of "{size.id}" follow from'
        for source in measured_in(spec, size.factors.of):
            yield (*place, "factor_of"), source, why
    if size.expansion is not None:
        why = f'"{size.id}" is brought to 20 °C by'
        yield (*place, "expansion"), size.expansion.temperature, why


def measured_in(spec: Spec, id_: str) -> list[str]:
    """The characteristics that a characteristic or derived quantity rests on."""
    found: dict[str, None] = {}
    queue, seen = [id_], {id_}
    for one in queue:
        if one in spec.characteristics:
            found[one] = None
            continue
        for source in spec.derived[one].of:
            if source not in seen:
                seen.add(source)
                queue.append(source)
    return list(found)


class _Behind:
    """What each operation waits for, however far back."""

    def __init__(self, operations: tuple[Operation, ...]) -> None:
        self._after = {one.id: one.after for one in operations}

    def of(self, operation: Operation) -> set[str]:
        found: set[str] = set()
        queue = list(operation.after)
        while queue:
            id_ = queue.pop()
            if id_ not in found:
                found.add(id_)
                queue.extend(self._after[id_])
        return found


def _zeros(spec: Spec, problems: Problems) -> None:
    """A set of readings is only as good as the zero on both sides of it."""
    kinds = {kind: None for check in spec.zero_checks.values() for kind in check.instruments}
    for kind in kinds:
        zeros = [
            index
            for index, one in enumerate(spec.operations)
            if one.kind is Kind.ZERO and kind in spec.zero_checks[one.subject].instruments
        ]
        taken = [
            index
            for index, one in enumerate(spec.operations)
            if one.kind is Kind.MEASURE and kind in spec.characteristics[one.subject].instruments
        ]
        if not zeros or not taken:
            continue
        late = [spec.operations[index].id for index in taken if index > zeros[-1]]
        if late:
            message = f"no zero check closes the readings of the {kind} in {choose(late, 3, 'and')}"
            again = spec.operations[zeros[-1]].subject
            mend = f'add [[operation]] with zero = "{again}" and an id behind them'
            problems.add(("operation", taken[-1]), message, mend)
        early = [spec.operations[index].id for index in taken if index < zeros[0]]
        if early:
            message = f"no zero check opens the readings of the {kind} in {choose(early, 3, 'and')}"
            problems.add(("operation", taken[0]), message, "move a zero check above them")


def _yielded(spec: Spec, problems: Problems) -> None:
    """Fasteners tightened into yield are used up, even if another group names the same part."""
    used: dict[str, str] = {}
    for index, operation in enumerate(spec.operations):
        if operation.kind is not Kind.TIGHTEN:
            continue
        fastener = spec.fasteners[operation.subject]
        first = used.get(fastener.part)
        if first is not None:
            message = (
                f'"{operation.id}" tightens fasteners that "{first}" has already taken into yield'
            )
            mend = "use new ones for it (a part of their own), or put this operation before"
            problems.add(("operation", index), message, mend)
        if fastener.torque_to_yield:
            used.setdefault(fastener.part, operation.id)
