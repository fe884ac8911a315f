"""What the rules of placement look at: a press beside the step that is open, and its size there."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from capture.build import Build
from capture.extension import Extension, factor
from capture.instrument import Instrument
from capture.quantity import Number, add, convert, dimension, exact
from capture.spec.model import Kind, Limits
from capture.step import Step
from capture.uncertainty import Setting
from capture.zero import ZeroSet

TURNED_BY_HAND = ("torque-wrench", "click-wrench")
"""Kinds that say the torque at the tool; an adapter between tool and fastener says it there."""


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
    bracket: dict[str, Any] | None = None
    """The press's own, where it says between which values the size lies: decimal text."""
    pull: dict[str, Any] | None = None
    """What was found in its torque trace, where it has one."""
    extension: Extension | None = None
    extension_seq: int = 0
    warmth: tuple[Decimal, float | None] | None = None
    """Temperature of the instrument in °C, and its standard uncertainty."""
    warmth_seq: int = 0
    at: int | None = None
    """Index of the step."""
    zero: ZeroSet | None = None
    """The open set of a comparative gauge."""
    zero_expanded: Decimal | None = None
    """U of its zero, in ``zero_unit``; None where it is not established."""
    zero_unit: str = ""
    zero_due: bool = False
    """The press was announced as a zero check."""
    standards: tuple[Setting, ...] = ()
    """Other standards that gauges of this bench were set on."""
    extensions: tuple[Extension, ...] = ()
    """Extensions that were on this tool before."""
    set_of_another: str | None = None
    """At a zero step: another suitable gauge with readings of this build since its last check."""
    measured: Number | None = None
    """The size in the step's unit; set by the unit and setting rules."""


def measured_at(case: Case, step: Step, value: Decimal | None = None) -> Number:
    """The value (the case's own where none is given) as a size of a step, in its unit.

    A comparative gauge's deviation is added to its setting standard, unless the step asks for the
    deviation itself; torque at a tool with an offset extension becomes torque at the fastener.
    Raises UnitError if the units do not agree, ValueError if a comparative gauge was never set.
    """
    size = convert(case.value if value is None else value, case.unit, step.unit)
    instrument = case.instrument
    if instrument is None:
        return size
    if instrument.comparative and step.kind is not Kind.ZERO:
        if case.setting is None:
            raise ValueError(f"{case.instrument_id} was never set on a standard")
        return add(convert(case.setting.size, case.setting.unit, step.unit), size)
    return at_fastener(case, size) if dimension(step.unit) == "torque" else size


def at_fastener(case: Case, torque: Number) -> Number:
    """Torque at the fastener, of one at the tool."""
    if case.extension is None or case.instrument is None:
        return torque
    if case.instrument.kind not in TURNED_BY_HAND:
        return torque
    return exact(Fraction(torque) * factor(case.extension))


def within(limits: Limits, value: Number) -> bool:
    """Whether a value lies inside, ends included."""
    lower, upper = limits.lower, limits.upper
    return (lower is None or lower <= value) and (upper is None or value <= upper)
