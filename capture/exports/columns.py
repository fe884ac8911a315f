"""The columns of a table of readings: one row for each, named in the trade's words."""

from __future__ import annotations

import re
from enum import StrEnum
from typing import Any, Final, NamedTuple

Cell = str | int | bool | None
Row = dict[str, Cell]

DECIMAL: Final = re.compile(r"-?[0-9]+(\.[0-9]+)?\Z")
"""What a number looks like in the ledger."""


class Sort(StrEnum):
    """What a column holds."""

    WHOLE = "whole number"
    DECIMAL = "decimal text"
    YES_NO = "yes or no"
    MOMENT = "moment"
    TEXT = "text"


class Column(NamedTuple):
    name: str
    sort: Sort


COLUMNS: Final = tuple(
    Column(name, sort)
    for sort, names in (
        (Sort.WHOLE, "seq"),
        (Sort.MOMENT, "received_at"),
        (Sort.TEXT, "build kind part"),
        (Sort.WHOLE, "number"),
        (Sort.TEXT, "piece characteristic point"),
        (Sort.WHOLE, "pass repeat"),
        (Sort.TEXT, "instrument raw"),
        (Sort.DECIMAL, "value"),
        (Sort.TEXT, "unit"),
        (Sort.DECIMAL, "measured"),
        (Sort.TEXT, "measured_exact"),
        (Sort.DECIMAL, "this_repeat"),
        (Sort.TEXT, "measured_unit verdict"),
        (Sort.DECIMAL, "lower upper expanded_uncertainty coverage_factor"),
        (Sort.TEXT, "rule"),
        (Sort.DECIMAL, "guard_band"),
        (Sort.TEXT, "notes"),
        (Sort.YES_NO, "simulated typed void"),
        (Sort.DECIMAL, "corrected"),
        (Sort.TEXT, "corrected_unit not_placed reason operator decided_by"),
        (Sort.WHOLE, "decision_seq"),
    )
    for name in names.split()
)
"""In order. ``value`` and ``unit`` are as sent; ``measured``, the limits and the uncertainty are in
``measured_unit``. Where a size has no ending decimals ``measured`` is rounded and
``measured_exact`` is the fraction; of the last of several repeats ``measured`` is their mean and
``this_repeat`` its own. ``raw`` is the message's bytes in hexadecimal, empty for a typed reading.
``not_placed`` is the code of why a reading answers no step; ``reason`` the sentence for that, or
what the person wrote who placed, corrected or voided it."""

JOINED: Final = "; "


def row(reading: dict[str, Any]) -> Row:
    """The cells of one reading, as the API shows it; None where it has nothing to say."""
    placement, verdict = reading["placement"], reading["verdict"]
    objection = placement.get("reason") or {}
    corrected = reading["corrected"] or {}
    return {
        "seq": reading["seq"],
        "received_at": reading["received_at"],
        **{
            name: placement.get(name)
            for name in (
                "build", "kind", "part", "number", "piece", "characteristic", "point", "pass",
                "repeat",
            )
        },
        **{name: reading[name] for name in ("instrument", "raw", "value", "unit")},
        "measured": verdict.get("measured"),
        "measured_exact": verdict.get("measured_exact"),
        "this_repeat": verdict.get("this"),
        "measured_unit": verdict.get("unit"),
        "verdict": verdict["result"],
        **{
            name: verdict.get(name)
            for name in (
                "lower", "upper", "expanded_uncertainty", "coverage_factor", "rule", "guard_band",
            )
        },
        "notes": JOINED.join(verdict.get("notes", ())),
        "simulated": reading["simulated"],
        "typed": reading["typed"],
        "void": objection.get("code") == "void",
        "corrected": corrected.get("digits"),
        "corrected_unit": corrected.get("unit"),
        "not_placed": objection.get("code"),
        "reason": reading["because"] or objection.get("detail"),
        "operator": reading["operator"],
        "decided_by": reading["decided_by"],
        "decision_seq": reading["decision_seq"],
    }  # fmt: skip
