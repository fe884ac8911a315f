"""Checks ``round``: operations done number by number, all of them for 1, then all for 2."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from capture.spec.collection import Collection
from capture.spec.cycle import cycles
from capture.spec.model import Fastener, Kind, Operation, Part
from capture.spec.position import places
from capture.spec.table import Table

Written = list[tuple[Table, Operation]]


def check_rounds(
    operations: Written, subjects: Mapping[Kind, Collection[Any]], parts: Collection[Part]
) -> None:
    """Notes rounds that are torn apart, that nothing counts, or that wait for themselves."""
    if not any(operation.round for _, operation in operations):
        return
    last = ""
    rounds: dict[str, Written] = {}
    for table, operation in operations:
        word = operation.round
        if word and word in rounds and word != last:
            message = f'the round "{word}" was left before: its operations do not stand together'
            mend = "move this operation up to the others, or give it a round of its own"
            table.problem("round", message, mend, rounds[word][-1][0].path)
        elif word:
            rounds.setdefault(word, []).append((table, operation))
        last = word
    for members in rounds.values():
        _counted(members, subjects, parts)
        _rising(members)
    _outside(operations)


def _counted(
    members: Written, subjects: Mapping[Kind, Collection[Any]], parts: Collection[Part]
) -> None:
    """Every operation of a round is done for the same numbers."""
    first: Part | None = None
    for table, operation in members:
        subject = subjects[operation.kind].sound.get(operation.subject)
        if subject is None:
            continue
        part_id = getattr(subject, "part", None)
        if part_id is None:
            message = f'"{operation.id}" is done once, not for every number of something'
            table.problem("round", message, "take it out of the round, or give it a part")
            continue
        part = parts.sound.get(part_id)
        if part is None:
            continue
        first = first or part
        if (part.position, places(part)) != (first.position, places(first)):
            message = (
                f'"{part.id}" ({places(part)} by {part.position}) and "{first.id}" '
                f"({places(first)} by {first.position}) cannot be done number by number"
            )
            table.problem("round", message, "keep to parts of one position in a round")
        if isinstance(subject, Fastener) and subject.together and part.per > 1:
            _groups(table, subject, part)


def _groups(table: Table, fastener: Fastener, part: Part) -> None:
    """Those tightened together must be of one number."""
    size = fastener.together
    for start in range(0, len(fastener.order), size):
        group = fastener.order[start : start + size]
        if len({part.place(number) for number in group}) > 1:
            message = f'"{fastener.id}" takes together fasteners of more than one {part.position}'
            table.problem("round", message, "correct its order, its together, or the part's per")
            return


def _rising(members: Written) -> None:
    """Within a round the order of the file is the order at each number."""
    place = {operation.id: index for index, (_, operation) in enumerate(members)}
    for index, (table, operation) in enumerate(members):
        for before in operation.after:
            if place.get(before, -1) > index and table.sound:
                message = f'"{before}" stands further down in the same round'
                table.problem("after", message, "list a round in its order of work")


def _outside(operations: Written) -> None:
    """Nothing outside a round may have to stand between two operations of it."""
    node = {one.id: f"round {one.round}" if one.round else one.id for _, one in operations}
    graph: dict[str, list[str]] = {name: [] for name in node.values()}
    for _, one in operations:
        for before in one.after:
            if before in node and node[before] != node[one.id]:
                graph[node[one.id]].append(node[before])
    own = {one.id: list(one.after) for _, one in operations}
    plain = {id_: [before for before in after if before in own] for id_, after in own.items()}
    known = {id_ for circle in cycles(plain) for id_ in circle}
    for circle in cycles(graph):
        members = [(table, one) for table, one in operations if node[one.id] in circle]
        if any(one.id in known for _, one in members):
            continue
        for table, one in members:
            between = [before for before in one.after if node.get(before) in circle]
            if one.round and any(node[before] != node[one.id] for before in between):
                outside = next(before for before in between if node[before] != node[one.id])
                message = (
                    f'"{outside}" would have to be done between two operations of the round '
                    f'"{one.round}", which is done number by number'
                )
                table.problem("after", message, "move it before the round, or into it")
                break
