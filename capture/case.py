"""What the rules of placement look at: a press beside the step that is open, and its size there."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from capture.build import Build
from capture.instrument import Instrument
from capture.quantity import Number, add, convert
from capture.spec.model import Limits
from capture.step import Step
from capture.uncertainty import Setting


@dataclass(slots=True)
class Case:
    """Everything a rule may look at."""

    build: Build | None
    step: Step | None
    instrument_id: str
    instrument: Instrument | None
    setting: Setting | None
    value: Decimal
    unit: str
    stamp: tuple[int, int]
    """(boot, monotonic nanoseconds)"""
    day: str
    """UTC day of the press, ``YYYY-MM-DD``."""
    previous: tuple[int, int, str, str] | None
    """(boot, mono, digits, unit) of the instrument's previous press."""
    digits: str
    flags: list[str]
    record_seq: int
    """Seq of the instrument's record; 0 where there is none."""
    setting_seq: int
    """Seq of its setting; 0 where there is none."""
    measured: Number | None = None
    """The size in the step's unit; set by the unit and setting rules."""


def measured_at(case: Case, unit: str) -> Number:
    """The value in ``unit``: a comparative gauge's deviation is added to its setting standard.

    Raises UnitError if the units do not agree, ValueError if a comparative gauge was never set.
    """
    value = convert(case.value, case.unit, unit)
    if case.instrument is not None and case.instrument.comparative:
        if case.setting is None:
            raise ValueError(f"{case.instrument_id} was never set on a standard")
        return add(convert(case.setting.size, case.setting.unit, unit), value)
    return value


def within(limits: Limits, value: Number) -> bool:
    """Whether a value lies inside, ends included."""
    lower, upper = limits.lower, limits.upper
    return (lower is None or lower <= value) and (upper is None or value <= upper)
