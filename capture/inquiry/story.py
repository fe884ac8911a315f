"""What happened in a build beside the measuring, in order: for the sheet and the auditor."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from capture.entry import Envelope

Data = dict[str, Any]

TOLD = ("close", "assign", "rework", "scrap", "concession", "fit", "remeasure")


def story(build_id: str, entries: Iterable[Envelope]) -> list[Data]:
    """Rework, concessions, scrap, moved pieces, and what people decided on readings: also that one
    was voided, or moved to another build."""
    found = []
    own: set[int] = set()
    for entry in entries:
        kind, body = entry["kind"], entry["body"]
        if kind in TOLD:
            told = {name: body[name] for name in _SAID if name in body}
        elif kind == "decision" and _concerns(build_id, body, own) and body["by"] != "rule":
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


def _concerns(build_id: str, body: Data, own: set[int]) -> bool:
    """Whether a decision is about a reading of this build; ``own`` keeps which those are. A void
    names no build: it concerns the one that the reading stood in."""
    press, build = body["press"], body["build"]
    if build == build_id:
        own.add(press)
        return True
    concerned = press in own
    if build is not None:
        own.discard(press)
    return concerned
