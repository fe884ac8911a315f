"""A reading as the API and the event stream show it: its press with its newest decision."""

from __future__ import annotations

from typing import Any

from capture.entry import Envelope


def reading(press: Envelope, decision: Envelope) -> dict[str, Any]:
    """The resource made of a press entry and the decision entry that counts for it."""
    sent, decided = press["body"], decision["body"]
    step = decided["step"]
    corrected = decided.get("corrected")
    more = {name: sent[name] for name in ("bracket", "trace") if name in sent}
    more |= {name: decided[name] for name in ("zero", "drift") if name in decided}
    return {
        **more,
        "seq": press["seq"],
        "instrument": sent["instrument"],
        "received_at": press["at"],
        "raw": sent["raw"],
        "value": sent["digits"],
        "unit": sent["unit"],
        "flags": sent["flags"],
        "simulated": sent["simulated"],
        "typed": sent["typed"],
        "late": sent["late"],
        "operator": press["operator"],
        "corrected": corrected,
        "placement": {"build": decided["build"], **_placement(step)}
        if step is not None
        else {"build": decided["build"], "reason": decided["reason"]},
        "verdict": decided["verdict"],
        "derived": decided["derived"],
        "decided_by": decided["by"],
        "because": decided.get("because"),
        "decision_seq": decision["seq"],
    }


def _placement(step: dict[str, Any]) -> dict[str, Any]:
    return {("step" if name == "id" else name): value for name, value in step.items()}
