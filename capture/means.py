"""By what a reading was taken: the records in force at its press, and the case they make."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, NamedTuple

from capture.build import Build
from capture.case import TURNED_BY_HAND, Case
from capture.desk import Desk
from capture.errors import UnitError
from capture.quantity import dimension, resolution
from capture.shelf import ExtensionRecord, Record, SettingRecord, WarmthRecord
from capture.step import Step
from capture.uncertainty import expand

Body = dict[str, Any]


class Means(NamedTuple):
    """By what a reading was taken: the records in force at its press."""

    record: Record | None
    setting: SettingRecord | None
    extension: ExtensionRecord | None = None
    warmth: WarmthRecord | None = None


def means_now(desk: Desk, instrument_id: str) -> Means:
    """Those in force now: for a press that is being decided as it comes."""
    return Means(
        desk.instruments.get(instrument_id),
        desk.settings.get(instrument_id),
        desk.extensions.get(instrument_id),
        desk.warmths.get(instrument_id),
    )


def means_at(desk: Desk, rule: Body, instrument_id: str) -> Means:
    """Those that the service's own decision on a press cites. Where the bench had no record of the
    instrument yet, the one it has now."""
    cites = rule["cites"]
    record, setting = cites["instrument"], cites["setting"]
    return Means(
        desk.instruments.get(instrument_id) if record is None else desk.records_by_seq[record],
        None if setting is None else desk.settings_by_seq[setting],
        desk.extensions_by_seq.get(cites.get("extension", 0)),
        desk.warmths_by_seq.get(cites.get("temperature", 0)),
    )


def case_of(
    press: Body,
    build: Build | None,
    step: Step | None,
    means: Means,
    at: str,
    stamp: tuple[int, int],
) -> Case:
    """What the rules look at. ``press`` has at least instrument, digits, unit and flags."""
    record, setting, extension, warmth = means
    digits = press["digits"]
    trace = press.get("trace")
    return Case(
        build,
        step,
        press["instrument"],
        None if record is None else record.instrument,
        None if setting is None else setting.setting,
        _value(digits, press.get("bracket")),
        press["unit"],
        stamp,
        at[:10],
        None,
        digits,
        press["flags"],
        0 if record is None else record.seq,
        0 if setting is None else setting.seq,
        press.get("bracket"),
        None if trace is None else trace["found"],
        None if extension is None else extension.extension,
        0 if extension is None else extension.seq,
        None if warmth is None else (warmth.celsius, warmth.u),
        0 if warmth is None else warmth.seq,
    )


def _value(digits: str, bracket: Body | None) -> Decimal:
    """The digits, or the middle of a bracket whose two ends are known."""
    if bracket is None or None in (bracket["lower"], bracket["upper"]):
        return Decimal(digits)
    return (Decimal(bracket["lower"]) + Decimal(bracket["upper"])) / 2


def add_set(desk: Desk, case: Case) -> None:
    """What a zero check of a comparative gauge goes by, and what else it could have been set on."""
    instrument = case.instrument
    if instrument is not None and instrument.kind in TURNED_BY_HAND:
        case.extensions = tuple(desk.extensions_of.get(case.instrument_id, ()))
    if instrument is None or not instrument.comparative or case.setting is None:
        return
    case.zero = desk.zeros.get(case.instrument_id)
    case.zero_unit = instrument.unit
    case.zero_expanded = _zero_uncertainty(desk, case)
    own = (case.setting.size, case.setting.unit)
    case.standards = tuple(one for key, one in desk.standards.items() if key != own)


ZERO_COVERAGE = Decimal(2)


def _zero_uncertainty(desk: Desk, case: Case) -> Decimal | None:
    """U (k = 2) of what the gauge reads on its standard, which is the same at both checks."""
    instrument = case.instrument
    if instrument is None or instrument.calibration is None:
        return None
    try:
        if dimension(case.unit) != dimension(instrument.unit):
            return None
    except UnitError:
        return None
    sent = resolution(case.digits)
    budget = desk.evaluator.zero_budget(case.record_seq, instrument, sent, case.unit)
    return expand(budget.standard_uncertainty, ZERO_COVERAGE)
