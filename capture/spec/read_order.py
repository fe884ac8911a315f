"""Reads ``[[operation]]``: the order of work, and what must come before what."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from capture.spec.collection import Collection
from capture.spec.cycle import cycles
from capture.spec.model import Fastener, Kind, Operation, Part
from capture.spec.problems import choose
from capture.spec.read_rounds import check_rounds
from capture.spec.table import Table

KINDS = tuple(kind.value for kind in Kind)
KEYS = ("id", *KINDS, "after", "round")


def read_order(
    document: Table, subjects: Mapping[Kind, Collection[Any]], parts: Collection[Part]
) -> tuple[Operation, ...]:
    """The operations in the file's order. ``subjects`` holds what each kind may name."""
    operations: list[tuple[Table, Operation]] = []
    ids: Collection[Operation] = Collection("operation")
    done: dict[tuple[Kind, str], Table] = {}
    for table in document.tables("operation", KEYS):
        kind, subject = _subject(table, subjects)
        if kind is None:
            if "id" in table:
                ids.claim(table, table.word("id"))
            continue
        id_ = table.word("id", f"{kind.value}-{subject}"[:64])
        first = done.setdefault((kind, subject), table)
        if first is not table:
            _again(table, first, kind, subject, subjects)
        if "id" not in table and id_ in ids.declared:
            message = f'"{subject}" stands in two operations, which need ids to be told apart'
            mend = f'add id = "{id_[:58]}-again"'
            table.problem("", message, mend, ids.declared[id_])
        else:
            ids.claim(table, id_)
        if subject not in subjects[kind].declared:
            _meant(table, kind, subject, subjects[kind], ids)
        word = table.word("round") if "round" in table else ""
        operations.append((table, Operation(id_, kind, subject, table.words("after"), word)))
    if not operations and document.sound:
        mend = f'add [[operation]] with one of {choose(KINDS)}, as measure = "bore"'
        document.problem("operation", "there is no order of work, so no next step", mend)
    _reach(operations, ids)
    check_rounds(operations, subjects, parts)
    return tuple(operation for _, operation in operations)


def _subject(table: Table, subjects: Mapping[Kind, Collection[Any]]) -> tuple[Kind | None, str]:
    """What kind of operation it is and the id of what it is about."""
    named = [kind for kind in Kind if kind.value in table]
    if len(named) != 1:
        words = choose([kind.value for kind in named], joint="and")
        message = f"this operation says {words}" if named else "this operation says nothing to do"
        mend = f"write one of {choose(KINDS)} in each [[operation]]"
        table.problem(named[1].value if named else "", message, mend)
        return None, ""
    kind = named[0]
    subject = table.word(kind.value)
    subjects[kind].find(table, kind.value, subject)
    return (kind, subject) if subject else (None, "")


def _meant(
    table: Table, kind: Kind, subject: str, known: Collection[Any], ids: Collection[Operation]
) -> None:
    """A misspelled subject gives its operation another id; whoever waits for the right one is
    not told, on top, that there is no such operation."""
    guess = table.nearest(subject, list(known.declared))
    if guess is not None:
        ids.declared.setdefault(f"{kind.value}-{guess}", ())


def _again(
    table: Table,
    first: Table,
    kind: Kind,
    subject: str,
    subjects: Mapping[Kind, Collection[Any]],
) -> None:
    """Notes a subject in a second operation where it may not be in two."""
    if kind is Kind.MEASURE:
        message = f'"{subject}" is measured by two operations'
        mend = "remove one; measuring anew is a rework, entered at the bench"
        table.problem(kind.value, message, mend, first.path)
    fastener = subjects[kind].sound.get(subject)
    if isinstance(fastener, Fastener) and fastener.torque_to_yield:
        message = f'"{subject}" is torque-to-yield and would be tightened twice'
        table.problem(kind.value, message, "remove one of the two operations", first.path)


def _reach(operations: list[tuple[Table, Operation]], ids: Collection[Operation]) -> None:
    """Notes what an ``after`` names in vain, circles, and whatever waits behind a circle."""
    known = list(ids.declared)
    graph: dict[str, list[str]] = {}
    tables: dict[str, Table] = {}
    for table, operation in operations:
        if operation.id in graph:
            continue
        tables[operation.id] = table
        graph[operation.id] = list(operation.after)
        for index, id_ in enumerate(operation.after):
            if id_ not in ids.declared:
                _unknown(table, index, id_, known)
    for id_, after in graph.items():
        graph[id_] = [before for before in after if before in graph]
    for circle in cycles(graph):
        if len(circle) == 1:
            message, mend = "this operation waits for itself", "take its own id out of after"
        else:
            message = f"these operations wait for each other: {choose(circle, joint='and')}"
            mend = "take one of them out of the other's after"
        tables[circle[0]].problem("after", message, mend)
        for id_ in circle:
            graph.pop(id_)
    _blocked(graph, tables)


def _blocked(graph: dict[str, list[str]], tables: dict[str, Table]) -> None:
    """Notes every operation that waits, however far back, for one in a circle."""
    waiting: dict[str, list[str]] = {}
    queue: list[str] = []
    for id_, after in graph.items():
        for before in after:
            waiting.setdefault(before, []).append(id_)
        if any(before not in graph and before in tables for before in after):
            queue.append(id_)
    seen = set(queue)
    while queue:
        id_ = queue.pop()
        blocker = next(b for b in graph[id_] if b in seen or (b not in graph and b in tables))
        message = (
            f'it can never be reached: it waits for "{blocker}", which cannot be reached either'
        )
        tables[id_].problem("after", message, "mend the circle")
        for later in waiting.get(id_, []):
            if later not in seen:
                seen.add(later)
                queue.append(later)


def _unknown(table: Table, index: int, id_: str, known: list[str]) -> None:
    guess = table.nearest(id_, known)
    mend = f'write "{guess}"' if guess else f"operations are {choose(known)}"
    message = f'there is no operation called "{id_}" (number {index + 1} of after)'
    table.problem("after", message, mend)
