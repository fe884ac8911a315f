"""What an entry that is not a reading is later found by."""

from __future__ import annotations

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
