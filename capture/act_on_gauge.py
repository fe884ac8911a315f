"""What a person says of an instrument: what it was set on, that it lies on its standard, how warm
it is, which extension is on it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from capture import command as c
from capture.case import TURNED_BY_HAND
from capture.desk import Desk
from capture.draft import Draft, Lookup
from capture.entry import Kind
from capture.errors import Conflict, NotFound, RequestError
from capture.extension import Extension, factor
from capture.quantity import dimension, unit_name
from capture.reading import Stamp
from capture.shelf import Record
from capture.uncertainty import expand, single


def _known(desk: Desk, instrument: str) -> Record:
    record = desk.instruments.get(instrument)
    if record is None:
        raise NotFound(
            f"This bench has no instrument {instrument}.",
            mend=f"It has: {', '.join(desk.instruments)}.",
        )
    return record


def set_gauge(desk: Desk, lookup: Lookup, command: c.SetGauge, stamp: Stamp) -> Draft:
    record = _known(desk, command.instrument)
    if not record.instrument.comparative:
        raise Conflict(
            f"{command.instrument} reads sizes, not deviations from a standard.",
            mend="Only gauges with comparative = true in bench.toml are set on a standard.",
        )
    unit = unit_name(command.unit)
    if dimension(unit) != dimension(record.instrument.unit):
        raise RequestError(
            f"A standard in {unit} does not suit a gauge in {record.instrument.unit}.",
            mend="Give the size in a unit of the same dimension.",
        )
    _positive("The size of a standard", command.size)
    expanded, coverage = _pair(command.expanded_uncertainty, command.coverage_factor)
    body: dict[str, Any] = {
        "instrument": command.instrument,
        "standard": command.standard.strip() or "unnamed standard",
        "size": format(command.size, "f"),
        "unit": unit,
    }
    if command.from_instrument is not None:
        origin = _known(desk, command.from_instrument)
        body["from_instrument"] = command.from_instrument
        body["from_record"] = origin.seq
        if expanded is None:
            expanded, coverage = _certified(origin, unit)
    body["expanded_uncertainty"] = _text(expanded)
    body["coverage_factor"] = _text(coverage)
    return Draft(Kind.SETTING, body)


COVERAGE = Decimal(2)


def _certified(origin: Record, unit: str) -> tuple[Decimal | None, Decimal | None]:
    """U of a size that an instrument shows, where it has a certificate."""
    instrument = origin.instrument
    if instrument.comparative or dimension(instrument.unit) != dimension(unit):
        raise RequestError(
            f"{instrument.id} shows no size that a gauge could be set from.",
            mend="Name a micrometer or another gauge that shows sizes.",
        )
    budget = single(instrument, instrument.resolution, unit, None)
    if budget is None:
        return None, None
    return expand(budget.standard_uncertainty, COVERAGE), COVERAGE


def _pair(
    expanded: Decimal | None, coverage: Decimal | None
) -> tuple[Decimal | None, Decimal | None]:
    if (expanded is None) != (coverage is None):
        raise RequestError(
            "Expanded uncertainty and coverage factor belong together.", mend="Give both or none."
        )
    if expanded is not None and coverage is not None:
        _positive("An expanded uncertainty", expanded)
        _positive("A coverage factor", coverage)
    return expanded, coverage


def expect_zero(desk: Desk, lookup: Lookup, command: c.ExpectZero, stamp: Stamp) -> Draft:
    record = _known(desk, command.instrument)
    if not record.instrument.comparative:
        raise Conflict(
            f"{command.instrument} reads sizes, so it has no zero on a standard.",
            mend="Only gauges with comparative = true in bench.toml are checked so.",
        )
    if command.instrument not in desk.settings:
        raise Conflict(
            f"{command.instrument} was not set on a standard yet.",
            mend="Say which standard it was set on first (POST /v1/settings).",
        )
    return Draft(Kind.ZERO_DUE, {"instrument": command.instrument})


def record_temperature(
    desk: Desk, lookup: Lookup, command: c.RecordTemperature, stamp: Stamp
) -> Draft:
    _known(desk, command.instrument)
    unit = unit_name(command.unit)
    if dimension(unit) != "temperature":
        raise RequestError(f"{unit} is no unit of temperature.", mend="Give it in °C or °F.")
    if not command.value.is_finite() or not -100 <= command.value <= 500:
        raise RequestError(
            f"{command.value} {unit} is no temperature of a gauge.", mend="Check the digits."
        )
    expanded, coverage = _pair(command.expanded_uncertainty, command.coverage_factor)
    body = {
        "instrument": command.instrument,
        "value": format(command.value, "f"),
        "unit": unit,
        "expanded_uncertainty": _text(expanded),
        "coverage_factor": _text(coverage),
    }
    return Draft(Kind.TEMPERATURE, body)


def fit_extension(desk: Desk, lookup: Lookup, command: c.FitExtension, stamp: Stamp) -> Draft:
    record = _known(desk, command.instrument)
    if record.instrument.kind not in TURNED_BY_HAND:
        raise Conflict(
            f"{command.instrument} is a {record.instrument.kind}: an extension changes nothing "
            "that it shows.",
            mend=f"Only a {' or '.join(TURNED_BY_HAND)} says the torque at the tool.",
        )
    unit = unit_name(command.unit)
    if dimension(unit) != "length":
        raise RequestError(f"{unit} is no unit of length.", mend="Give both lengths in mm or in.")
    _positive("The length of the tool", command.tool_length)
    if command.length:
        _positive("The length of the extension", command.length)
    made = Extension(command.tool_length, command.length, command.angle, unit)
    try:
        factor(made)
    except ValueError as error:
        raise RequestError(str(error), mend="Check the lengths and the angle.") from error
    body = {
        "instrument": command.instrument,
        "tool_length": format(made.tool_length, "f"),
        "length": format(made.length, "f"),
        "angle": format(made.angle, "f"),
        "unit": unit,
    }
    return Draft(Kind.EXTENSION, body)


def _positive(what: str, value: Decimal) -> None:
    if not value.is_finite() or value <= 0 or abs(value.adjusted()) > 20:
        raise RequestError(f"{what} must be a number above zero.", mend="Check the digits.")


def _text(value: Decimal | None) -> str | None:
    return None if value is None else format(value, "f")
