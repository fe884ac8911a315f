"""Which step a press answers: an ordered table of rules, first match wins.

Each rule either has no objection or names one with its numbers. A press that a rule objects to is
stored, shown with the reason, and not counted until a person decides; nothing is refused and
nothing is converted in silence.

====  ==========================  ==========================================================
order code                        objection
====  ==========================  ==========================================================
 1    no-open-build               no build is open and active on this bench
 2    no-open-step                nothing is left to do, or what is left is held by a result
 3    not-a-measuring-step        the current step asks for a confirmation
 4    unknown-instrument          the ledger has no record of this instrument
 5    unsuitable-instrument       the step wants another kind of instrument
 6    unknown-unit                the unit is not known, or not of the step's dimension
 7    calibration-overdue         only where the spec says overdue instruments are held
 8    gauge-not-set               a comparative gauge with no setting standard on record
 9    wrong-direction             a counterclockwise pull where a fastener is to be tightened
10    repeated-press              same digits from the same instrument within the repeat window
11    unit-slip                   implausible as sent, plausible in another unit
12    fits-another-step           implausible here, plausible at another open step
13    decimal-slip                implausible as sent, plausible with the point moved
14    sign-slip                   implausible as sent, plausible with the other sign
15    outside-instrument-range    the value cannot be shown by this instrument
16    implausible-size            outside the plausible band, and nothing above fits
17    late                        older than the step that is open
====  ==========================  ==========================================================
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Any

from capture.case import Case, measured_at, within
from capture.errors import UnitError
from capture.instrument import Instrument
from capture.quantity import Number, convert, dimension, text
from capture.spec.model import Kind
from capture.step import Step

Objection = dict[str, Any]
"""``{"code", "detail", …numbers as text}``; ``Any`` because the numbers differ by code."""

SLIPS: dict[str, tuple[tuple[str, str], ...]] = {
    "length": (("in", "mm"), ("mm", "in")),
    "torque": (
        ("lbf·ft", "N·m"),
        ("N·m", "lbf·ft"),
        ("lbf·in", "N·m"),
        ("N·m", "lbf·in"),
        ("lbf·ft", "lbf·in"),
        ("lbf·in", "lbf·ft"),
    ),
}
"""(true unit, unit it was taken for): the mix-ups looked for, by dimension."""


Rule = Callable[[Case], Objection | None]


def shown(size: Number) -> str:
    """A size for a sentence: exact where that is short, else with six decimals."""
    exact = text(size)
    return exact if len(exact.partition(".")[2]) <= 6 else text(size, 6)


def _no_open_build(case: Case) -> Objection | None:
    if case.build is not None:
        return None
    return {"code": "no-open-build", "detail": "No build is open on this bench."}


def _no_open_step(case: Case) -> Objection | None:
    if case.step is not None:
        return None
    assert case.build is not None
    held = sorted({hold for work in case.build.works.values() for hold in work.holds})
    detail = "Every step is answered."
    if held:
        detail = f"No step is open: {', '.join(held)} must be settled first."
    return {"code": "no-open-step", "detail": detail, "holds": held}


def _not_measuring(case: Case) -> Objection | None:
    assert case.step is not None
    if case.step.kind != Kind.CONFIRM:
        return None
    return {
        "code": "not-a-measuring-step",
        "detail": f"The current step {case.step.id} asks for a confirmation, not a reading.",
        "step": case.step.id,
    }


def _unknown_instrument(case: Case) -> Objection | None:
    if case.instrument is not None:
        return None
    return {
        "code": "unknown-instrument",
        "detail": f"This bench has no instrument {case.instrument_id}.",
    }


def _unsuitable(case: Case) -> Objection | None:
    assert case.step is not None
    assert case.instrument is not None
    if case.instrument.kind in case.step.instruments:
        return None
    fitting = [other.id for other in _others(case) if case.instrument.kind in other.instruments]
    return {
        "code": "unsuitable-instrument",
        "detail": f"{case.instrument_id} is a {case.instrument.kind}; {case.step.id} wants "
        f"{' or '.join(case.step.instruments)}.",
        "step": case.step.id,
        "fits": fitting,
    }


def _unknown_unit(case: Case) -> Objection | None:
    assert case.step is not None
    if case.unit == case.step.unit:
        return None
    try:
        same = dimension(case.unit) == dimension(case.step.unit)
    except UnitError:
        same = False
    if same:
        return None
    return {
        "code": "unknown-unit",
        "detail": f"A reading in {case.unit or 'no unit'} cannot answer {case.step.id}, "
        f"which is in {case.step.unit}.",
        "unit": case.unit,
        "step": case.step.id,
    }


def overdue(instrument: Instrument, day: str) -> str | None:
    """The due date of a calibration that has passed; None while it is valid or there is none."""
    calibration = instrument.calibration
    return calibration.due if calibration is not None and calibration.due < day else None


def _overdue(case: Case) -> Objection | None:
    assert case.build is not None
    assert case.instrument is not None
    if case.build.spec.decision.overdue != "hold":
        return None
    due = overdue(case.instrument, case.day)
    if due is None:
        return None
    return {
        "code": "calibration-overdue",
        "detail": f"The calibration of {case.instrument_id} was due on {due}; this spec does not "
        "count readings of overdue instruments.",
        "due": due,
    }


def _not_set(case: Case) -> Objection | None:
    assert case.step is not None
    assert case.instrument is not None
    if case.instrument.comparative and case.setting is None:
        return {
            "code": "gauge-not-set",
            "detail": f"{case.instrument_id} reads deviations and was never set on a standard: "
            "say which standard it was set on, then measure again.",
        }
    case.measured = measured_at(case, case.step.unit)
    return None


def _wrong_direction(case: Case) -> Objection | None:
    assert case.step is not None
    if case.step.kind != Kind.TIGHTEN or "counterclockwise" not in case.flags:
        return None
    return {
        "code": "wrong-direction",
        "detail": f"The pull was counterclockwise; {case.step.id} tightens clockwise. For a "
        "left-hand thread, place it by hand.",
        "step": case.step.id,
    }


def _repeated(case: Case) -> Objection | None:
    if case.previous is None or case.previous[2] != case.digits:
        return None
    boot, mono, _, unit = case.previous
    assert case.build is not None
    since = case.stamp[1] - mono
    window = case.build.spec.decision.repeat_window_ms
    if boot != case.stamp[0] or unit != case.unit or since >= window * 1_000_000:
        return None
    return {
        "code": "repeated-press",
        "detail": f"{case.instrument_id} sent the same digits {since // 1_000_000} ms before.",
        "interval_ms": str(since // 1_000_000),
        "window_ms": str(window),
    }


def _out_of_range(case: Case) -> Objection | None:
    assert case.instrument is not None
    ends = case.instrument.range
    if ends is None:
        return None
    value: Number
    try:
        value = convert(case.value, case.unit, case.instrument.unit)
    except UnitError:
        return None
    if ends[0] <= value <= ends[1]:
        return None
    return {
        "code": "outside-instrument-range",
        "detail": f"{case.digits} {case.unit} is outside what {case.instrument_id} can show, "
        f"{ends[0]} to {ends[1]} {case.instrument.unit}.",
        "lower": str(ends[0]),
        "upper": str(ends[1]),
    }


def _unit_slip(case: Case) -> Objection | None:
    assert case.step is not None
    assert case.instrument is not None
    if case.instrument.comparative:
        return None
    for true, taken in SLIPS.get(dimension(case.step.unit), ()):
        if taken != case.unit:
            continue
        size = convert(case.value, true, case.step.unit)
        if within(case.step.plausible, size):
            return {
                "code": "unit-slip",
                "detail": f"{case.digits} {case.unit} is not plausible at {case.step.id}; "
                f"{case.digits} {true} would be ({shown(size)} {case.step.unit}).",
                "step": case.step.id,
                "unit": case.unit,
                "fits_unit": true,
                "size": text(size),
            }
    return None


def _others(case: Case) -> Iterator[Step]:
    """The first unanswered step of every other open operation."""
    assert case.build is not None
    for at in case.build.open_firsts():
        other = case.build.steps[at]
        if case.step is None or other.operation != case.step.operation:
            yield other


def _fits_another(case: Case) -> Objection | None:
    assert case.step is not None
    assert case.instrument is not None
    for other in _others(case):
        if case.instrument.kind not in other.instruments:
            continue
        try:
            size = measured_at(case, other.unit)
        except UnitError:
            continue
        if within(other.plausible, size):
            return {
                "code": "fits-another-step",
                "detail": f"{shown(size)} {other.unit} is not plausible at {case.step.id} but is "
                f"at {other.id}.",
                "step": case.step.id,
                "fits": [other.id],
                "size": text(size),
            }
    return None


def _slip(
    code: str, words: str, factors: tuple[Decimal, ...]
) -> Callable[[Case], Objection | None]:
    def rule(case: Case) -> Objection | None:
        assert case.step is not None
        for factor in factors:
            moved = case.value * factor
            size = measured_at(_with_value(case, moved), case.step.unit)
            if within(case.step.plausible, size):
                return {
                    "code": code,
                    "detail": f"{case.digits} {case.unit} is not plausible at {case.step.id}; "
                    f"{format(moved, 'f')} {case.unit} would be: {words}",
                    "step": case.step.id,
                    "fits_value": format(moved, "f"),
                }
        return None

    return rule


def _with_value(case: Case, value: Decimal) -> Case:
    return Case(
        case.build, case.step, case.instrument_id, case.instrument, case.setting, value, case.unit,
        case.stamp, case.day, case.previous, case.digits, case.flags, case.record_seq,
        case.setting_seq,
    )  # fmt: skip


def _implausible(case: Case) -> Objection:
    assert case.step is not None
    assert case.measured is not None
    band = case.step.plausible
    return {
        "code": "implausible-size",
        "detail": f"{shown(case.measured)} {case.step.unit} is outside the plausible band of "
        f"{case.step.id}, {band.lower} to {band.upper} {case.step.unit}.",
        "step": case.step.id,
        "size": text(case.measured),
        "lower": str(band.lower),
        "upper": str(band.upper),
    }


def _late(case: Case) -> Objection | None:
    assert case.build is not None
    assert case.step is not None
    boot, mono = case.build.opened_mono
    if boot != case.stamp[0] or case.stamp[1] >= mono:
        return None
    return {
        "code": "late",
        "detail": f"The press is {(mono - case.stamp[1]) // 1_000_000} ms older than the step "
        f"{case.step.id} that is open.",
        "step": case.step.id,
    }


_BEFORE: tuple[Rule, ...] = (
    _no_open_build,
    _no_open_step,
    _not_measuring,
    _unknown_instrument,
    _unsuitable,
    _unknown_unit,
    _overdue,
    _not_set,
    _wrong_direction,
    _repeated,
)
_IF_IMPLAUSIBLE: tuple[Rule, ...] = (
    _unit_slip,
    _fits_another,
    _slip("decimal-slip", "the decimal point may have slipped.", tuple(
        Decimal(10) ** power for power in (1, -1, 2, -2, 3, -3)
    )),
    _slip("sign-slip", "the sign may be wrong.", (Decimal(-1),)),
    _out_of_range,
    _implausible,
)  # fmt: skip


def objection(case: Case) -> Objection | None:
    """The first objection to placing the press on the current step; None: it is placed there.

    Sets ``case.measured`` when it gets that far.
    """
    for rule in _BEFORE:
        found = rule(case)
        if found is not None:
            return found
    assert case.step is not None
    assert case.measured is not None
    if not within(case.step.plausible, case.measured):
        for rule in _IF_IMPLAUSIBLE:
            found = rule(case)
            if found is not None:
                return found
    return _out_of_range(case) or _late(case)
