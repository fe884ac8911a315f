"""Rules about pulls on fasteners."""

from __future__ import annotations

from capture.case import TURNED_BY_HAND, Case, within
from capture.extension import torque_at_fastener
from capture.quantity import convert, plain, text
from capture.rules.objection import Objection, shown
from capture.spec.model import Kind


def tightened_into_yield(case: Case) -> Objection | None:
    """A fastener that is tightened into yield is not tightened so twice: the piece is spent."""
    assert case.build is not None
    assert case.step is not None
    step = case.step
    if step.kind is not Kind.TIGHTEN or step.part is None:
        return None
    piece = case.build.pieces.at(step.part, step.number)
    assert piece is not None
    before = case.build.yielded.get((step.part, piece))
    if before is None:
        return None
    return {
        "code": "tightened-into-yield",
        "detail": f"{piece} was tightened into yield before (reading {before}). Do not use it "
        "again unless the engine's maker says so: fit a new one and assign it to "
        f"{step.part} {step.number}.",
        "step": step.id,
        "piece": piece,
        "reading": str(before),
    }


def incomplete_pull(case: Case) -> Objection | None:
    """What a trace with a part missing stands for cannot be told: the torque may have been more."""
    assert case.step is not None
    if case.pull is None:
        return None
    codes = case.pull["codes"]
    if "ends-under-load" in codes and "incomplete" not in codes:
        detail = (
            f"The trace ends under load at {case.digits} {case.unit}: the pull may have gone on "
            "unseen."
        )
    elif "incomplete" in codes:
        said = case.pull["sentences"][codes.index("incomplete")]
        detail = f"{said} More than the {case.digits} {case.unit} seen may have been pulled."
    elif "no-turning" in codes and case.step.kind is Kind.TURN:
        detail = f"{case.step.id} is a turning test, and nothing turned steadily in this trace."
    else:
        return None
    return {
        "code": "incomplete-pull",
        "detail": f"{detail} Check the fastener, then place it by hand or pull again.",
        "step": case.step.id,
    }


def second_pull(case: Case) -> Objection | None:
    """Other digits within the repeat window: nobody moves a tool to the next fastener so fast."""
    assert case.build is not None
    assert case.step is not None
    if case.step.kind is not Kind.TIGHTEN or case.previous is None:
        return None
    boot, mono, digits, unit = case.previous
    since = case.stamp[1] - mono
    window = case.build.spec.decision.repeat_window_ms
    if boot != case.stamp[0] or not 0 <= since < window * 1_000_000:
        return None
    return {
        "code": "second-pull",
        "detail": f"{case.instrument_id} was pulled to {digits} {unit} only "
        f"{since // 1_000_000} ms before: a second pull on the same fastener, it seems.",
        "step": case.step.id,
        "interval_ms": str(since // 1_000_000),
        "window_ms": str(window),
    }


def extension_slip(case: Case) -> Objection | None:
    """Implausible as the tool is said to be, plausible with an extension that it had before, or
    without the one that is said to be on it."""
    assert case.step is not None
    assert case.instrument is not None
    if case.instrument.kind not in TURNED_BY_HAND:
        return None
    shown_torque = convert(case.value, case.unit, case.step.unit)
    for other in (None, *case.extensions):
        if other == case.extension:
            continue
        torque = shown_torque if other is None else torque_at_fastener(shown_torque, other)
        if within(case.step.plausible, torque):
            what = (
                "without an extension"
                if other is None
                else f"with the extension of {plain(other.length)} {other.unit} it had before"
            )
            return {
                "code": "extension-slip",
                "detail": f"{case.digits} {case.unit} is not plausible at {case.step.id}; {what} "
                f"it would be ({shown(torque)} {case.step.unit} at the fastener): say what is on "
                f"{case.instrument_id}, then pull again or place it by hand.",
                "step": case.step.id,
                "size": text(torque),
            }
    return None
