"""Examples of what is computed over a build, and of calculations. All of it is invented."""

from __future__ import annotations

from typing import Any

Data = dict[str, Any]
TRADE: dict[str, Data] = {
    "FitProposal": {
        "build": "b12",
        "derived": "piston-clearance",
        "title": "Piston clearance",
        "unit": "mm",
        "lower": "0.040",
        "upper": "0.060",
        "target": "0.05",
        "order": {"1": "piston-2", "2": "piston-1"},
        "changes": {"1": "piston-2", "2": "piston-1"},
        "pairs": [
            {
                "number": 1,
                "piece": "piston-2",
                "clearance": "0.0485",
                "within": True,
                "hone": "0.0015",
                "hone_to": "86.0070",
                "hone_says": "Take 0.0015 mm, to 86.0070 mm.",
            }
        ],
        "worst_miss": "0.0015",
        "total_miss": "0.0030",
        "complete": True,
        "cannot_fit": [],
        "unmeasured": [],
    },
    "StudyState": {
        "study": "bore-gauge-study",
        "title": "Bore gauge",
        "readings": 17,
        "wanted": 60,
        "complete": False,
        "result": None,
    },
    "CheckState": {
        "check": "click-wrench-check",
        "title": "Click wrench",
        "tool": "click-wrench-1",
        "unit": "N·m",
        "permissible_deviation_percent": "4",
        "preloads": {"done": 5, "wanted": 5},
        "conforming": None,
        "worst_percent": "0.5025",
        "repeatability_percent": 0.4,
        "expanded_uncertainty_percent": 0.9,
        "points": [
            {
                "setting": "40",
                "readings": ["40.2", "39.8"],
                "deviations_percent": ["-0.4975", "0.5025"],
                "within": [True, True],
                "spread_percent": "1.0000",
                "complete": False,
            }
        ],
    },
    "Preloads": {
        "preloads": [
            {
                "fastener": "rod-bolts",
                "number": 1,
                "stage": "final",
                "lubricant": "engine oil",
                "method": "nut factor",
                "preload_newton": "25000",
                "lower_newton": "18750",
                "upper_newton": "31250",
                "scatter": "± 25 %",
                "share_of_proof": {"value": "0.743", "lower": "0.557", "upper": "0.929"},
                "stretch_mm": None,
                "cautions": ["The engine maker's torque comes first."],
            }
        ]
    },
    "Findings": {
        "findings": [
            {
                "code": "set-open",
                "subject": "bores",
                "detail": "bore-gauge-1 was not back on its standard after 2 readings.",
                "numbers": {"readings": "2"},
            }
        ],
        "not_shown": [
            {
                "mistake": "A whole set taken on a sister bore, within limits",
                "why": "Every reading agrees with every other of its set.",
                "practice": "Read the position back before each set.",
            }
        ],
    },
    "Clearances": {
        "clearances": [
            {
                "id": "piston-clearance",
                "number": 1,
                "unit": "mm",
                "points": [{"point": "top-thrust", "value": "0.047"}],
            }
        ]
    },
    "Story": {
        "story": [
            {
                "seq": 40,
                "at": "2026-01-31T08:00:00.000000Z",
                "operator": "first shift",
                "kind": "rework",
                "part": "cylinder",
                "number": 1,
                "reason": "Honed.",
            }
        ]
    },
    "ReadingBudget": {
        "reading": 37,
        "step": "bores/2/top-thrust",
        "unit": "mm",
        "established": True,
        "lines": [
            {
                "name": "calibration",
                "standard_uncertainty": 0.001,
                "expanded_uncertainty": 0.002,
                "share": 0.92,
                "degrees_of_freedom": None,
            }
        ],
        "standard_uncertainty": 0.00104,
        "degrees_of_freedom": None,
        "coverage_factor": "2",
        "expanded_uncertainty": "0.0021",
    },
    "TraceSamples": {
        "sha256": "7d" * 32,
        "unit": "N·m",
        "seconds": ["0.000000000", "0.020000000", "0.040000000"],
        "torque": ["0.0", "18.2", "35.9"],
        "angle": None,
    },
    "Calculations": {
        "calculations": [
            {
                "name": "oil-clearance",
                "sentence": "Room for oil: housing, two shells, journal.",
                "input": {"type": "object", "title": "OilClearance"},
                "example": {"unit": "mm", "housing": "60.000"},
            }
        ]
    },
    "Calculated": {
        "calculation": "oil-clearance",
        "unit": "mm",
        "method": "Housing bore less both walls less journal, all square to the split.",
        "result": {"oil_clearance": "0.045"},
        "cautions": [],
    },
}
