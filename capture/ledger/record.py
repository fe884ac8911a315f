"""What an entry is later found by."""

from __future__ import annotations

from typing import Any

from capture.entry import Envelope, Kind

ZERO = "zero"
"""Kind of the record of a decision that is a zero check, found by its instrument at a start."""


def record_name(entry: Envelope) -> str | None:
    """What a record is found by: the reading of a decision, else its build, instrument or hash."""
    body = entry["body"]
    if entry["kind"] == Kind.DECISION:
        return str(body["press"])
    if entry["kind"] == Kind.PROFILE:
        return str(body["name"])
    for name in ("build", "instrument", "hash", "id"):
        if body.get(name) is not None:
            return str(body[name])
    return None


CORRECTED = 1
"""In the row of a reading whose value that counts is a person's; else NULL."""

RESULTS = ("conforming", "nonconforming", "undecided", "not_evaluated")
"""How a placed reading may stand."""


def standing(decision: dict[str, Any]) -> str:
    """How a reading stands by the body of the decision that counts: the result of its verdict where
    it is placed, else the code of the reason why it is not. No code is spelled like a result."""
    if decision["step"] is None:
        return str(decision["reason"]["code"])
    return str(decision["verdict"]["result"])
