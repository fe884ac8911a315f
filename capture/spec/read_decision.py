"""Reads ``[decision]``: how conformity is decided."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum

from capture.spec.model import Decision, Rule
from capture.spec.table import Table

KEYS = ("rule", "guard_factor", "coverage_factor", "overdue", "repeat_window_ms")


class Overdue(StrEnum):
    """What an instrument past its calibration date does to a verdict."""

    MARK = "mark"
    HOLD = "hold"


def read_decision(document: Table) -> Decision:
    """The decision the file states, by default guarded with g = 1 and k = 2."""
    table = document.table("decision", KEYS)
    if table is None:
        return Decision()
    default = Decision()
    decision = Decision(
        rule=table.choice("rule", Rule, default.rule),
        guard_factor=table.number("guard_factor", default.guard_factor),
        coverage_factor=table.number("coverage_factor", default.coverage_factor),
        overdue=table.choice("overdue", Overdue, Overdue.MARK).value,
        repeat_window_ms=table.whole("repeat_window_ms", default.repeat_window_ms, 0, 60_000),
    )
    if not 0 <= decision.guard_factor <= 10:
        mend = 'write a number from 0 to 10; "1" guards with the whole of U'
        table.problem("guard_factor", f"{decision.guard_factor:f} is out of range", mend)
    elif "guard_factor" in table and decision.rule is not Rule.GUARDED:
        message = f'the rule "{decision.rule.value}" has no guard factor'
        table.problem("guard_factor", message, 'remove it, or write rule = "guarded"')
    if not Decimal(1) <= decision.coverage_factor <= Decimal(10):
        mend = 'write a number from 1 to 10; "2" covers about 95 %'
        table.problem("coverage_factor", f"{decision.coverage_factor:f} is out of range", mend)
    return decision
