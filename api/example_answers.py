"""An example of each answer for the OpenAPI document. All of it is invented, hashes included; a
test holds each against the form of its answer."""

from __future__ import annotations

from typing import Any

from api.example_trade import TRADE

Data = dict[str, Any]
AT = "2026-01-31T08:00:00.000000Z"
SPEC = "5e" * 32
BENCH = "b7" * 32
ROOT = "3c" * 32
STEP = "bores/2/top-thrust"


def answer(model: str, last: str) -> Data:
    """The example of a model's answer; ``last`` is the last word of the address, for those whose
    content depends on it."""
    if model == "Recorded":
        return {"seq": 41, "at": AT, "operator": "first shift", **RECORDED.get(last, {})}
    from api.example_charts import CHARTED

    return {**TRADE, **CHARTED, **ANSWERS}[model]


VERDICT: Data = {
    "result": "conforming",
    "measured": "86.012",
    "unit": "mm",
    "lower": "86.000",
    "upper": "86.020",
    "expanded_uncertainty": "0.0026",
    "coverage_factor": "2",
    "rule": "guarded",
    "notes": [],
}
READING: Data = {
    "seq": 37,
    "instrument": "bore-gauge-1",
    "received_at": AT,
    "raw": "2b302e3031320d0a",
    "value": "0.012",
    "unit": "mm",
    "flags": [],
    "simulated": True,
    "typed": False,
    "late": None,
    "operator": "first shift",
    "corrected": None,
    "placement": {
        "build": "b12",
        "step": STEP,
        "characteristic": "cylinder-bore",
        "part": "cylinder",
        "number": 2,
        "piece": None,
        "point": "top-thrust",
        "pass": 1,
        "repeat": 1,
    },
    "verdict": VERDICT,
    "derived": [],
    "decided_by": "rule",
    "because": None,
    "decision_seq": 38,
}
LATEST: Data = {
    **{
        key: READING[key]
        for key in (
            "seq",
            "instrument",
            "received_at",
            "value",
            "unit",
            "corrected",
            "placement",
        )
    },
    "bracket": None,
}
WAITING: Data = {
    **READING,
    "seq": 39,
    "raw": "302e3030300d0a",
    "value": "0.000",
    "placement": {
        "build": "b12",
        "reason": {"code": "repeated-press", "detail": "The same digits came 0.2 s before."},
    },
    "verdict": {"result": "not_evaluated", "because": "repeated-press"},
    "decision_seq": 40,
    "placeable": True,
}
SUMMARY: Data = {
    "id": SPEC,
    "name": "inline-four",
    "title": "Invented inline four",
    "revision": "1",
    "invented": True,
    "notice": "Invented: no real engine has these sizes.",
    "cautions": ["Wear eye protection."],
    "seq": 10,
}
CARD: Data = {
    "id": "b12",
    "seq": 12,
    "title": "Engine on stand 2",
    "spec": SPEC,
    "opened_at": AT,
    "active": True,
    "closed": False,
}
HOLD: Data = {
    "subject": "bores/1/top-thrust",
    "operations": ["bores"],
    "holds_up": ["clearances"],
    "title": "Cylinder bore",
    "result": "nonconforming",
    "number": 1,
    "parts": ["cylinder"],
    "places": [{"part": "cylinder", "number": 1}],
    "drift": False,
    "follows": None,
    "reading": 35,
}
BUILD: Data = {
    **CARD,
    "state": "open",
    "invented": True,
    "notice": SUMMARY["notice"],
    "decision_rule": {
        "rule": "guarded",
        "guard_factor": "1",
        "coverage_factor": "2",
        "overdue": "mark",
    },
    "steps_done": 2,
    "steps_total": 24,
    "results": {"conforming": 1, "nonconforming": 1, "undecided": 0, "not_evaluated": 0},
    "counts": {
        "readings": {"conforming": 1, "nonconforming": 1, "undecided": 0, "not_evaluated": 0},
        "derived": {"conforming": 0, "nonconforming": 0, "undecided": 0, "not_evaluated": 0},
        "gauge_checks": {"conforming": 0, "nonconforming": 0, "undecided": 0, "not_evaluated": 0},
    },
    "operations": [
        {
            "id": "bores",
            "kind": "measure",
            "title": "Cylinder bore",
            "done": 2,
            "total": 24,
            "open": True,
            "complete": False,
            "after": [],
        }
    ],
    "derived": [],
    "holds": [HOLD],
    "concessions": [],
    "pieces": [{"part": "piston", "number": 3, "piece": "P-117"}],
    "open_sets": [{"instrument": "bore-gauge-1", "opened": 14, "readings": 2}],
    "cautions": SUMMARY["cautions"],
}
NEXT: Data = {
    "build": "b12",
    "step": {
        "id": STEP,
        "kind": "measure",
        "operation": "bores",
        "characteristic": "cylinder-bore",
        "part": "cylinder",
        "number": 2,
        "piece": None,
        "point": "top-thrust",
        "pass": 1,
        "repeat": 1,
        "title": "Cylinder bore",
        "text": None,
        "instruments": ["bore-gauge"],
        "unit": "mm",
        "nominal_size": "86.000",
        "lower": "86.000",
        "upper": "86.020",
        "target": None,
        "stage": None,
        "bracketed": False,
        "tool_settings": {},
        "cautions": ["Take the smallest reading."],
    },
    "chosen": False,
    "waiting": [HOLD],
    "steps_done": 2,
    "steps_total": 24,
    "done": False,
}
DEVICE: Data = {"instrument": "bore-gauge-1", "state": "ready", "detail": "", "at": AT}
PEDAL: Data = {
    "pedal": "pedal-1",
    "does": "confirm",
    "instrument": None,
    "state": "ready",
    "detail": "on /dev/input/event7",
    "at": AT,
    "press": {"result": "done", "detail": "confirmed: Faces clean", "seq": 41, "at": AT},
}
OPERATORS: list[Data] = [{"name": "first shift", "badge": "OP-0017"}]
BADGE_READER: Data = {
    "reader": "badge-reader-1",
    "state": "ready",
    "detail": "on /dev/input/event8",
    "at": AT,
    "scan": {
        "result": "done",
        "detail": "first shift is at the bench",
        "badge": "OP-0017",
        "operator": "first shift",
        "seq": 41,
        "at": AT,
    },
}
INSTRUMENT: Data = {
    "id": "bore-gauge-1",
    "kind": "bore-gauge",
    "unit": "mm",
    "resolution": "0.001",
    "port": "/dev/ttyUSB0",
    "profile": "decimal-line",
    "channel": None,
    "range": ["-1.000", "1.000"],
    "comparative": True,
    "simulated": True,
    "calibration": {
        "certificate": "invented",
        "due": "2027-06-30",
        "expanded_uncertainty": "0.002",
        "coverage_factor": "2",
    },
    "seq": 3,
    "temperature": {"celsius": "20.5", "at": AT, "seq": 15},
    "extension": None,
    "set": {"opened": 14, "readings": 2, "closed": False},
    "zero_due": False,
    "setting": {
        "standard": "ring-86",
        "size": "86.000",
        "unit": "mm",
        "expanded_uncertainty": "0.001",
        "coverage_factor": "2",
        "at": AT,
        "seq": 14,
    },
    "state": "ready",
    "device": DEVICE,
}
CONDITION: Data = {"state": "storing", "detail": "", "held": 0, "since": None}
ENTRY: Data = {
    "v": 1,
    "bench": BENCH,
    "boot": 1,
    "seq": 41,
    "kind": "operator",
    "at": AT,
    "mono": "81234567890",
    "operator": "first shift",
    "body": {"operator": "first shift"},
}
ANSWERS: dict[str, Data] = {
    "Operators": {
        "operator": "first shift",
        "operators": OPERATORS,
        "badge_readers": [BADGE_READER],
    },
    "Health": {
        "status": "ready",
        "bench": BENCH,
        "title": "Bench 1",
        "boot": 1,
        "size": 41,
        "version": "0.1.0",
        "simulated": True,
        "condition": CONDITION,
    },
    "BenchState": {
        "title": "Bench 1",
        "bench": BENCH,
        "size": 41,
        "at": AT,
        "simulated": True,
        "known": True,
        "operator": "first shift",
        "build": BUILD,
        "next": NEXT,
        "last": READING,
        "latest": [LATEST],
        "unplaced": [WAITING],
        "older": 0,
        "instruments": [{k: v for k, v in INSTRUMENT.items() if k not in ("state", "device")}],
        "devices": [DEVICE],
        "pedals": [PEDAL],
        "operators": OPERATORS,
        "badge_readers": [BADGE_READER],
        "askable": ["indicator-1"],
        "condition": CONDITION,
    },
    "Instruments": {"instruments": [INSTRUMENT]},
    "InstrumentState": INSTRUMENT,
    "Asked": {"instrument": "bore-gauge-1", "asked": True},
    "Builds": {"builds": [CARD]},
    "BuildState": BUILD,
    "Steps": {
        "steps": [
            {
                "id": STEP,
                "kind": "measure",
                "operation": "bores",
                "characteristic": "cylinder-bore",
                "part": "cylinder",
                "number": 2,
                "point": "top-thrust",
                "repeat": 1,
                "pass": 1,
                "done": True,
                "open": False,
                "reading": 37,
                "entry": 38,
                "result": "conforming",
            }
        ]
    },
    "Next": NEXT,
    "Readings": {"readings": [READING], "next": 37},
    "Reading": READING,
    "Specs": {"specs": [SUMMARY]},
    "SpecSummary": SUMMARY,
    "Entries": {"entries": [ENTRY], "next": 41},
    "Entry": ENTRY,
    "Inclusion": {
        "seq": 1,
        "leaf_index": 0,
        "tree_size": 2,
        "leaf_hash": "1a" * 32,
        "root_hash": ROOT,
        "inclusion_path": ["2b" * 32],
        "entry": "{…}",
    },
    "Consistency": {
        "first": 1,
        "second": 2,
        "first_root": "1a" * 32,
        "second_root": ROOT,
        "consistency_path": ["2b" * 32],
    },
}
RECORDED: dict[str, Data] = {
    "operator": {"operator": "first shift"},
    "settings": {
        "instrument": "bore-gauge-1",
        "standard": "ring-86",
        "size": "86.000",
        "unit": "mm",
        "expanded_uncertainty": "0.001",
        "coverage_factor": "2",
    },
    "zeros": {"instrument": "bore-gauge-1"},
    "temperatures": {"instrument": "bore-gauge-1", "value": "20.5", "unit": "°C"},
    "extensions": {
        "instrument": "click-wrench-1",
        "tool_length": "400",
        "length": "50",
        "angle": "0",
        "unit": "mm",
    },
    "fits": {
        "build": "b12",
        "clearance": "piston-clearance",
        "part": "piston",
        "order": [[1, 2], [2, 1]],
        "pieces": [[1, "piston-2"], [2, "piston-1"]],
    },
    "sets": {
        "build": "b12",
        "step": "bore-zero-after/1",
        "steps": ["bore-zero-before/1", "bores/1/top-thrust", "bore-zero-after/1"],
        "reason": "The clamp had slipped.",
    },
    "choose": {"build": "b12", "step": STEP},
    "confirmations": {"build": "b12", "step": "caps-marked/1", "note": "Punch marks."},
    "assignments": {"build": "b12", "part": "piston", "number": 3, "piece": "P-117"},
    "concessions": {"build": "b12", "subject": STEP, "reason": "Within the wear limit."},
}
"""What a recorded entry's body holds beside, by the last word of the address."""
