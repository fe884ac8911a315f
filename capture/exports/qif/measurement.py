"""One reading as a measured characteristic, with its place in the ledger."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from typing import Any, Final, NamedTuple
from uuid import UUID

from capture.exports.columns import DECIMAL, row
from capture.exports.grounds import Record
from capture.exports.qif.markup import attributes, element, ids, said
from capture.exports.qif.units import sort_of
from capture.quantity import text as digits

STATUS: Final = {
    "conforming": "PASS",
    "nonconforming": "FAIL",
    "undecided": "INDETERMINATE",
    "not_evaluated": "NOT_ANALYZED",
}
"""Our result → the standard's status. What is undecided has not passed, and has not failed."""

SIMULATED: Final = "Simulated: no real part was measured."

CARRIED: Final = (
    "build", "kind", "part", "number", "piece", "point", "pass", "repeat", "instrument", "verdict",
    "measured_exact", "this_repeat", "lower", "upper", "expanded_uncertainty", "coverage_factor",
    "rule", "guard_band", "corrected", "corrected_unit", "operator", "reason", "typed", "simulated",
    "decision_seq",
)  # fmt: skip
"""Cells of the reading's row that go along as attributes under the same name."""


class Ids(NamedTuple):
    """What a measurement refers to, by number in the document."""

    own: int
    item: int
    component: int
    device: int | None


def measurement(reading: dict[str, Any], refers: Ids, uuid: UUID) -> str:
    """The element for a placed reading that has a measured value."""
    verdict = reading["verdict"]
    sort = sort_of(verdict["unit"])
    words = {sort.attribute: verdict["unit"]}
    uncertainty = combined(verdict)
    if uncertainty is not None:
        words["combinedUncertainty"] = uncertainty
    notes = [SIMULATED] if reading["simulated"] else []
    notes += verdict.get("notes", ())
    return element(
        f"{sort.name}CharacteristicMeasurement",
        _attributes(reading, uuid),
        said("Description", " ".join(notes)) if notes else "",
        element("Status", said("CharacteristicStatusEnum", STATUS[verdict["result"]])),
        said("CharacteristicItemId", refers.item),
        said("TimeStamp", reading["received_at"]),
        said("ActualComponentId", refers.component),
        "" if refers.device is None else ids("MeasurementDeviceIds", [refers.device]),
        said("Value", verdict["measured"], **words),
        id=refers.own,
    )


def combined(verdict: dict[str, Any]) -> str | None:
    """The combined standard uncertainty, U/k; None where none is established."""
    expanded, factor = verdict.get("expanded_uncertainty"), verdict.get("coverage_factor")
    if expanded is None or factor is None:
        return None
    return _divided(expanded, factor)


@lru_cache(maxsize=1024)
def _divided(expanded: str, factor: str) -> str | None:
    if not DECIMAL.match(expanded) or not DECIMAL.match(factor) or not Fraction(factor) > 0:
        return None
    return digits(Fraction(expanded) / Fraction(factor))


def _attributes(reading: dict[str, Any], uuid: UUID) -> str:
    cells, verdict = row(reading), reading["verdict"]
    ends = verdict.get("bracket") or (None, None)
    return attributes(
        uuid=uuid,
        ledger_seq=reading["seq"],
        value_as_sent=reading["value"],
        unit_as_sent=reading["unit"],
        raw=reading["raw"] or None,
        bracket_lower=ends[0],
        bracket_upper=ends[1],
        drifted_zero=reading.get("drift", {}).get("zero"),
        trace=reading.get("trace", {}).get("sha256"),
        **{name: None if cells[name] == "" else cells[name] for name in CARRIED},
    )


def device(number: int, record: Record) -> str:
    """An instrument as it was recorded, with its calibration."""
    body = record.body
    calibration = body.get("calibration")
    simulated = SIMULATED if body["simulated"] else ""
    return element(
        "ManualMeasurementDevice",
        said("Name", body["id"]),
        said("Description", " ".join(word for word in (body["kind"], simulated) if word)),
        attributes(
            ledger_seq=record.seq,
            kind=body["kind"],
            unit=body["unit"],
            resolution=body["resolution"],
            comparative=body["comparative"],
            simulated=body["simulated"],
            certificate=None if calibration is None else calibration["certificate"],
            expanded_uncertainty=calibration and calibration["expanded_uncertainty"],
            coverage_factor=calibration and calibration["coverage_factor"],
        ),
        "" if calibration is None else _calibration(calibration),
        id=number,
    )


def _calibration(calibration: dict[str, Any]) -> str:
    """The due day is the last one on which it is valid, at the bench's own time."""
    end = said("ExpirationDate", f"{calibration['due']}T23:59:59")
    return element("Calibrations", element("Calibration", end), n=1)


def component(number: int, build: str, part: str, piece: str) -> str:
    """A piece that was measured. An export of some readings does not judge whole pieces."""
    return element(
        "ActualComponent",
        attributes(build=build, part=part or None),
        said("SerialNumber", piece),
        element("Status", said("InspectionStatusEnum", "NOT_CALCULATED")),
        id=number,
    )
