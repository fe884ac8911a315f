"""Examples for the OpenAPI document. All of it is invented."""

from __future__ import annotations

from typing import Any

PARAMETERS: dict[str, Any] = {
    "after": 0,
    "limit": 100,
    "since": "2026-01-31T08:00:00Z",
    "until": "2026-01-31T17:30:00+01:00",
    "seq": 1,
    "step": "bores/2/top-thrust",
}
BODIES: dict[str, Any] = {
    "activate": {"operator": "second shift"},
    "ask": {},
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
    "pulls": {
        "instrument": "torque-adapter-1",
        "unit": "N·m",
        "interval_us": 20_000,
        "torque": ["0.0", "0.0", "18.2", "35.9", "50.2", "41.0", "39.8", "12.3", "0.1"],
    },
    "fits": {"order": {"1": "piston-2", "2": "piston-1"}},
    "sets": {"step": "bore-zero-after/1", "reason": "The clamp had slipped."},
    "builds": {"spec": "0" * 64, "title": "Engine on stand 2"},
    "close": {"reason": "Delivered."},
    "choose": {"step": "bores/2/top-thrust"},
    "confirmations": {"step": "caps-marked/1", "note": "Punch marks."},
    "assignments": {"part": "piston", "number": 3, "piece": "P-117"},
    "reworks": {"part": "cylinder", "number": 2, "reason": "Honed."},
    "concessions": {"subject": "bores/2/top-thrust", "reason": "Within the wear limit."},
    "scraps": {"part": "piston", "number": 3, "reason": "Cracked skirt."},
    "readings": {
        "instrument": "feeler-1",
        "unit": "mm",
        "bracket": {
            "lower": "0.30",
            "upper": "0.35",
            "leaves": ["0.30"],
            "beside": ["0.25", "0.35"],
        },
    },
    "placements": {
        "build": "b12",
        "step": "bores/2/top-thrust",
        "reason": "It was cylinder 2.",
    },
    "corrections": {"value": "86.012", "unit": "mm", "reason": "Misread by one division."},
    "voids": {"reason": "The gauge slipped."},
}
