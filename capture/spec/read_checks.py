"""Reads ``[[confirmation]]`` and ``[[turning_test]]``: what is confirmed, and what must turn."""

from __future__ import annotations

from capture.spec import limits
from capture.spec.collection import Collection
from capture.spec.model import Confirmation, Part, TurningTest
from capture.spec.plausible import plausible
from capture.spec.read_sizes import instruments
from capture.spec.table import Table

CONFIRMATION_KEYS = ("id", "title", "text", "part", "cautions")
TURNING_KEYS = (
    "id",
    "title",
    "part",
    "unit",
    *limits.PLAIN_KEYS,
    "plausible",
    "instruments",
    "cautions",
)


def read_confirmations(document: Table, parts: Collection[Part]) -> Collection[Confirmation]:
    """Every confirmation the file declares."""
    confirmations: Collection[Confirmation] = Collection("confirmation")
    for table in document.tables("confirmation", CONFIRMATION_KEYS):
        id_ = table.word("id")
        confirmations.claim(table, id_)
        part = table.word("part") if "part" in table else None
        if part is not None:
            parts.find(table, "part", part)
        confirmation = Confirmation(
            id=id_,
            title=table.line("title"),
            text=table.text("text"),
            part=part,
            cautions=table.texts("cautions"),
        )
        if table.sound:
            confirmations.sound[id_] = confirmation
    return confirmations


def read_turning_tests(document: Table, parts: Collection[Part]) -> Collection[TurningTest]:
    """Every turning test the file declares."""
    tests: Collection[TurningTest] = Collection("turning test")
    for table in document.tables("turning_test", TURNING_KEYS):
        id_ = table.word("id")
        tests.claim(table, id_)
        part = table.word("part") if "part" in table else None
        if part is not None:
            parts.find(table, "part", part)
        unit = limits.unit(table, ("torque",))
        bounds = limits.plain_limits(table)
        test = TurningTest(
            id=id_,
            title=table.line("title"),
            unit=unit,
            limits=bounds,
            plausible=plausible(table, bounds, None, unit),
            instruments=instruments(table),
            cautions=table.texts("cautions"),
            part=part,
        )
        if table.sound:
            tests.sound[id_] = test
    return tests
