"""What happened in a build beside the measuring, in order: for the sheet and the auditor."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from capture.entry import Envelope

Data = dict[str, Any]

TOLD = ("close", "assign", "rework", "scrap", "concession", "fit", "remeasure")


def story(build_id: str, entries: Iterable[Envelope]) -> list[Data]:
    """Rework, concessions, scrap, moved pieces, and what people decided on readings."""
    found = []
    for entry in entries:
        kind, body = entry["kind"], entry["body"]
        if kind in TOLD:
            told = {name: body[name] for name in _SAID if name in body}
        elif kind == "decision" and body["by"] != "rule" and body["build"] == build_id:
            step = body["step"]
            told = {
                "reading": body["press"],
                "act": body.get("act", "marked"),
                "reason": body.get("because"),
                "step": None if step is None else step["id"],
                "result": body["verdict"]["result"],
            }
            told |= {name: body[name] for name in ("corrected", "drift") if name in body}
        else:
            continue
        who = {"seq": entry["seq"], "at": entry["at"], "operator": entry["operator"]}
        found.append({**who, "kind": kind, **told})
    return found


_SAID = ("part", "number", "piece", "displaced", "subject", "reason", "clearance", "pieces", "step")
