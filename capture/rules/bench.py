"""Rules about the bench: is there a build, a step, an instrument, and does it suit?"""

from __future__ import annotations

from capture import fineness
from capture.case import Case
from capture.errors import UnitError
from capture.factored import limits_of
from capture.instrument import Instrument
from capture.quantity import dimension
from capture.rules.objection import Objection, others
from capture.spec.model import Kind


def no_open_build(case: Case) -> Objection | None:
    if case.build is not None:
        return None
    return {"code": "no-open-build", "detail": "No build is open on this bench."}


def no_open_step(case: Case) -> Objection | None:
    if case.step is not None:
        return None
    assert case.build is not None
    held = sorted({hold for work in case.build.works.values() for hold in work.holds})
    detail = "Every step is answered."
    if held:
        detail = f"No step is open: {', '.join(held)} must be settled first."
    return {"code": "no-open-step", "detail": detail, "holds": held}


def not_measuring(case: Case) -> Objection | None:
    assert case.step is not None
    if case.step.kind != Kind.CONFIRM:
        return None
    return {
        "code": "not-a-measuring-step",
        "detail": f"The current step {case.step.id} asks for a confirmation, not a reading.",
        "step": case.step.id,
    }


def unknown_instrument(case: Case) -> Objection | None:
    if case.instrument is not None:
        return None
    return {
        "code": "unknown-instrument",
        "detail": f"This bench has no instrument {case.instrument_id}.",
    }


def unsuitable(case: Case) -> Objection | None:
    assert case.step is not None
    assert case.instrument is not None
    if case.instrument.kind in case.step.instruments:
        return None
    fitting = [other.id for other in others(case) if case.instrument.kind in other.instruments]
    return {
        "code": "unsuitable-instrument",
        "detail": f"{case.instrument_id} is a {case.instrument.kind}; {case.step.id} wants "
        f"{' or '.join(case.step.instruments)}.",
        "step": case.step.id,
        "fits": fitting,
    }


def unknown_unit(case: Case) -> Objection | None:
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


def finer_than_shown(case: Case) -> Objection | None:
    """Digits that the gauge cannot show: typed too long, or a gauge switched to another unit."""
    assert case.step is not None
    assert case.instrument is not None
    if case.bracket is not None or case.pull is not None or case.instrument.leaves:
        return None
    if not fineness.finer_than_shown(case.digits, case.unit, case.instrument):
        return None
    shown_step = f"{case.instrument.resolution} {case.instrument.unit}"
    return {
        "code": "finer-than-shown",
        "detail": f"{case.instrument_id} shows steps of {shown_step} and cannot show "
        f"{case.digits} {case.unit}: is it switched to another unit, or was a digit typed too "
        "many?",
        "step": case.step.id,
        "resolution": str(case.instrument.resolution),
    }


def calibration_overdue(case: Case) -> Objection | None:
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


def not_set(case: Case) -> Objection | None:
    assert case.step is not None
    assert case.instrument is not None
    if case.instrument.comparative and case.setting is None:
        return {
            "code": "gauge-not-set",
            "detail": f"{case.instrument_id} reads deviations and was never set on a standard: "
            "say which standard it was set on, then measure again.",
        }
    return None


def limits_not_known(case: Case) -> Objection | None:
    assert case.build is not None
    assert case.step is not None
    if limits_of(case.build, case.step) is not None:
        return None
    one = case.build.spec.characteristics[case.step.subject]
    assert one.factors is not None
    return {
        "code": "limits-not-known",
        "detail": f"The limits of {case.step.id} follow from {one.factors.of} at the same place, "
        "which is not measured yet: measure that first.",
        "step": case.step.id,
        "follows_from": one.factors.of,
    }
