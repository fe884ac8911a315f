"""What answers about instruments and control charts look like; invented."""

from __future__ import annotations

from typing import Any

from api.example_answers import AT, INSTRUMENT, READING

Data = dict[str, Any]

_WHO: Data = {"seq": 40, "at": AT, "operator": "first shift"}
_U: Data = {"expanded_uncertainty": "0.0010", "coverage_factor": "2"}
_POINT: Data = {
    "build": "b12",
    "title": "Engine on stand 2",
    "opened_at": AT,
    "revision": "1",
    "mean": "86.01150",
    "spread": "0.003",
    "values": [
        {"name": "1", "value": "86.010", "readings": [37], "entry": 38},
        {"name": "2", "value": "86.013", "readings": [39], "entry": 40},
    ],
    "signals": [],
    "spread_signals": [],
}
_WHAT: Data = {
    "quantity": "bore",
    "title": "Cylinder bore",
    "sort": "characteristic",
    "unit": "mm",
    "form": "mean-and-range",
}
CHARTED: dict[str, Data] = {
    "InstrumentLife": {
        "instrument": {
            **INSTRUMENT,
            "on_bench": True,
            "standing": {"state": "soon", "days": 12},
            "last": READING,
        },
        "as_of": "2026-01-31",
        "most": 200,
        "builds": 100,
        "calibrations": [
            {
                "seq": 5,
                "at": AT,
                "until": None,
                "calibration": INSTRUMENT["calibration"],
                "unit": "mm",
            }
        ],
        "changes": [
            {
                "seq": 30,
                "at": AT,
                "changed": [{"name": "resolution", "before": "0.01", "after": "0.001"}],
            }
        ],
        "settings": [
            {
                **_WHO,
                "standard": "ring-86",
                "size": "86.000",
                "unit": "mm",
                **_U,
                "from_instrument": None,
            }
        ],
        "zero_checks": [
            {
                **_WHO,
                "reading": 39,
                "deviation": "0.001",
                "opening": "0.000",
                "drift": "0.001",
                "expanded_uncertainty": "0.0021",
                "unit": "mm",
                "steady": True,
                "opened": 30,
                "readings": 8,
                "build": "b12",
            }
        ],
        "temperatures": [{**_WHO, "value": "20.5", "unit": "°C", **_U}],
        "extensions": [{**_WHO, "tool_length": "400", "length": "50", "angle": "0", "unit": "mm"}],
        "trouble": [
            {
                "seq": 44,
                "at": AT,
                "code": "gap",
                "detail": "the port was unplugged; what was sent meanwhile may be missing",
                "raw": "",
            }
        ],
        "readings": {
            "of_last": 11,
            "results": {"conforming": 8},
            "checks": [{"kind": "zero", "count": 2}],
            "not_counted": [{"reason": "void", "count": 1}],
        },
        "studies": [],
        "checks": [],
    },
    "Charts": {
        "specs": [
            {
                "name": "inline-four",
                "title": "Invented inline four",
                "builds": 24,
                "older_builds": False,
                "charts": [
                    {
                        **_WHAT,
                        "builds": 24,
                        "limits_computed": True,
                        "trial": False,
                        "signals": 0,
                        "newest": _POINT,
                        "means": ["86.01100", "86.01150"],
                        "stands_out": [],
                        "lower": "86.00760",
                        "upper": "86.01530",
                    }
                ],
            }
        ],
        "older_builds": False,
    },
    "ChartState": {
        "spec": {"name": "inline-four", "title": "Invented inline four"},
        **_WHAT,
        "position": "cylinder",
        "together": "sisters",
        "size": 2,
        "points_each": 1,
        "forms": ["mean-and-range", "mean-and-deviation", "individuals"],
        "trial": False,
        "control": {"centre": "86.01145", "lower": "86.00760", "upper": "86.01530"},
        "spread_control": {"centre": "0.00205", "lower": "0.00000", "upper": "0.00670"},
        "standard_deviation": "0.00182",
        "size_limits": [{"lower": "86.000", "upper": "86.020", "unit": "mm", "revisions": ["1"]}],
        "follows": None,
        "chance": "0.41",
        "builds_differ": False,
        "points": [_POINT],
        "left_out": [{"build": "b900", "title": "Engine on stand 1", "why": "unfinished"}],
        "newest_only": None,
        "least": 3,
        "trial_below": 20,
        "row": 7,
    },
}
