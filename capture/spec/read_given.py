"""Reads ``[[given]]``: values the spec gives rather than wants measured."""

from __future__ import annotations

from capture.spec import limits
from capture.spec.collection import Collection
from capture.spec.model import Characteristic, Given
from capture.spec.table import Table

KEYS = ("id", "title", "value", "unit")
DIMENSIONS = (
    "length",
    "angle",
    "temperature",
    "mass",
    "volume",
    "pressure",
    "force",
    "torque",
    "ratio",
)


def read_given(document: Table, sizes: Collection[Characteristic]) -> Collection[Given]:
    """Every given value the file declares."""
    given: Collection[Given] = Collection("given value")
    for table in document.tables("given", KEYS):
        id_ = table.word("id")
        given.claim(table, id_, [sizes])
        if id_ == "pi":
            message = '"pi" is the number π in every formula'
            table.problem("id", message, "choose another id")
        one = Given(
            id=id_,
            title=table.line("title"),
            value=table.number("value"),
            unit=limits.unit(table, DIMENSIONS),
        )
        if table.sound:
            given.sound[id_] = one
    return given
