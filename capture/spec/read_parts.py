"""Reads ``[[part]]``: the kinds of part and how many the engine has of each."""

from __future__ import annotations

from capture.spec.collection import Collection
from capture.spec.model import Part
from capture.spec.read_shape import read_shape
from capture.spec.table import Table

KEYS = ("id", "title", "count", "position", "per", "shape")
MOST = 10_000


def read_parts(document: Table) -> Collection[Part]:
    """Every part the file declares."""
    parts: Collection[Part] = Collection("part")
    for table in document.tables("part", KEYS):
        id_ = table.word("id")
        parts.claim(table, id_)
        part = Part(
            id=id_,
            title=table.line("title"),
            count=table.whole("count", 1, 1, MOST),
            position=table.word("position", id_),
            per=table.whole("per", 1, 1, MOST),
            shape=read_shape(table),
        )
        if table.sound and part.count % part.per:
            message = f"{part.count} of it cannot stand {part.per} at each {part.position}"
            table.problem("per", message, f"correct per, or make count a multiple of {part.per}")
        if table.sound:
            parts.sound[id_] = part
    return parts
