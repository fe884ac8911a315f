"""Rules about the press itself: its direction, when it came, and what came before it."""

from __future__ import annotations

from capture.case import Case
from capture.rules.objection import Objection
from capture.spec.model import Kind


def wrong_direction(case: Case) -> Objection | None:
    assert case.step is not None
    if case.step.kind != Kind.TIGHTEN or "counterclockwise" not in case.flags:
        return None
    return {
        "code": "wrong-direction",
        "detail": f"The pull was counterclockwise; {case.step.id} tightens clockwise. For a "
        "left-hand thread, place it by hand.",
        "step": case.step.id,
    }


def repeated(case: Case) -> Objection | None:
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


def late(case: Case) -> Objection | None:
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
