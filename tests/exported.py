"""Readings and their grounds for tests of exports. Everything in them is invented."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import orjson

from capture.exports.formats import written
from capture.exports.grounds import Record
from capture.spec.load import load
from capture.spec.model import Spec
from tests.running import SPEC

MOMENT = "2026-01-31T08:00:00Z"
RECORD: dict[str, Any] = {
    "id": "mic-1",
    "kind": "micrometer",
    "unit": "mm",
    "resolution": "0.001",
    "comparative": False,
    "simulated": False,
    "calibration": {
        "certificate": "invented",
        "due": "2099-12-31",
        "expanded_uncertainty": "0.002",
        "coverage_factor": "2",
    },
}


def reading(
    seq: int = 10,
    placement: dict[str, Any] | None = None,
    verdict: dict[str, Any] | None = None,
    **changed: Any,
) -> dict[str, Any]:
    """A reading as the API shows it; what is given takes the place of what is usual."""
    return {
        "seq": seq,
        "instrument": "mic-1",
        "received_at": f"2026-01-31T08:00:00.{seq:06}Z",
        "raw": "32352e303031",
        "value": "25.001",
        "unit": "mm",
        "flags": [],
        "simulated": False,
        "typed": False,
        "late": None,
        "operator": None,
        "corrected": None,
        "derived": [],
        "decided_by": "rule",
        "because": None,
        "decision_seq": seq + 1,
        "placement": {
            "build": "b5",
            "kind": "measure",
            "operation": "measure-diameter",
            "step": "measure-diameter/1/top",
            "characteristic": "diameter",
            "part": "sleeve",
            "number": 1,
            "piece": "sleeve-1",
            "point": "top",
            "pass": 1,
            "repeat": 1,
            **(placement or {}),
        },
        "verdict": {
            "result": "conforming",
            "measured": "25.001",
            "unit": "mm",
            "lower": "24.990",
            "upper": "25.010",
            "expanded_uncertainty": "0.0023",
            "coverage_factor": "2",
            "rule": "guarded",
            "guard_band": "0.0023",
            "notes": [],
            **(verdict or {}),
        },
        **changed,
    }


def objected(code: str, detail: str, seq: int = 10, **changed: Any) -> dict[str, Any]:
    """A reading that answers no step."""
    return {
        **reading(seq, **changed),
        "placement": {"build": None, "reason": {"code": code, "detail": detail}},
        "verdict": {"result": "not_evaluated", "because": code},
    }


class Told:
    """Grounds from memory."""

    bench = "invented"

    def __init__(
        self, spec: Spec | None = None, record: dict[str, Any] | None = None, known: bool = True
    ) -> None:
        self._spec = load(SPEC.encode(), "spec.toml") if spec is None else spec
        self._record = RECORD if record is None else record
        self._known = known

    def spec_of(self, build: str) -> Spec | None:
        return self._spec if self._known else None

    def record_of(self, seq: int) -> Record | None:
        return Record(3, self._record) if self._known else None


def file(form: str, readings: Iterable[dict[str, Any]], told: Told | None = None) -> bytes:
    """The whole file of these readings."""
    items = (orjson.dumps(one) for one in readings)
    return b"".join(written(form, items, told or Told(), MOMENT))
