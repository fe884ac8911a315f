"""The folded state as plain data for front ends: strings, integers, booleans, lists and dicts.

Every function reads a ``Desk`` and changes nothing. This module is imported at start, long before
there is a desk, so it imports only names for types from what a desk is made of.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from capture.errors import NotFound
from capture.quantity import plain

if TYPE_CHECKING:
    from capture.build import Build
    from capture.desk import Card, Desk
    from capture.spec.model import Kind, Spec
    from capture.step import Step

Data = dict[str, Any]


def specs(desk: Desk) -> list[Data]:
    """Specs on record, oldest first."""
    return [spec(desk, digest) for digest in desk.specs]


def spec(desk: Desk, digest: str) -> Data:
    """One spec's summary. Raises NotFound."""
    record = desk.specs.get(digest)
    if record is None:
        raise NotFound(f"There is no spec {digest}.", mend="See GET /v1/specs.")
    return {
        "id": digest,
        "name": record.spec.id,
        "title": record.spec.title,
        "revision": record.spec.revision,
        "invented": record.spec.invented,
        "notice": record.spec.notice,
        "cautions": list(record.spec.cautions),
        "seq": record.seq,
    }


def builds(desk: Desk) -> list[Data]:
    """Builds on record, oldest first."""
    return [_card(desk, card) for card in desk.cards.values()]


def _card(desk: Desk, card: Card) -> Data:
    return {
        "id": card.id,
        "seq": card.seq,
        "title": card.title,
        "spec": card.spec,
        "opened_at": card.opened_at,
        "active": desk.active == card.id,
        "closed": card.closed,
    }


def build(desk: Desk, build_id: str) -> Data:
    """One build: how far it is, what holds it, what was derived. Raises NotFound."""
    found = desk.build(build_id)
    results = {"conforming": 0, "nonconforming": 0, "undecided": 0, "not_evaluated": 0}
    for fill in found.fills:
        if fill is not None and fill.press is not None:
            results[fill.result] += 1
    return {
        **_card(desk, desk.cards[build_id]),
        "state": _state(found),
        "invented": found.spec.invented,
        "notice": found.spec.notice,
        "decision_rule": _rule(found.spec),
        "steps_done": found.filled,
        "steps_total": len(found.steps),
        "results": results,
        "operations": [_operation(found, name) for name in found.works],
        "derived": [_derived(found, name, number) for name, number in sorted(found.derived)],
        "holds": holds(found),
        "concessions": [
            {"subject": subject, "reason": reason} for subject, reason in found.conceded.items()
        ],
        "pieces": [
            {"part": part, "number": number, "piece": piece}
            for (part, number), piece in sorted(found.pieces.items())
        ],
        "cautions": list(found.spec.cautions),
    }


def _state(found: Build) -> str:
    if found.closed:
        return "closed"
    return "done" if found.done else "open"


def _rule(spec: Spec) -> Data:
    decision = spec.decision
    return {
        "rule": decision.rule.value,
        "guard_factor": plain(decision.guard_factor),
        "coverage_factor": plain(decision.coverage_factor),
        "overdue": decision.overdue,
    }


def _operation(found: Build, name: str) -> Data:
    work = found.works[name]
    return {
        "id": name,
        "kind": work.operation.kind.value,
        "title": title_of(found.spec, work.operation.kind, work.operation.subject),
        "done": work.filled,
        "total": work.total,
        "open": not work.answered and found.is_unblocked(work),
        "complete": work.complete,
        "after": list(work.operation.after),
    }


def _derived(found: Build, name: str, number: int) -> Data:
    one = found.spec.derived[name]
    fill = found.derived[name, number]
    return {
        "id": name,
        "title": one.title,
        "quantity": one.quantity.value,
        "number": number,
        "verdict": fill.verdict,
        "conceded": found.conceded.get(f"{name}/{number}"),
        "seq": fill.seq,
    }


def holds(found: Build) -> list[Data]:
    """Results that must be settled (measured again, reworked, conceded, scrapped) first."""
    seen: dict[str, list[str]] = {}
    for name, work in found.works.items():
        for subject in work.holds:
            seen.setdefault(subject, []).append(name)
    return [_hold(found, subject, names) for subject, names in sorted(seen.items())]


def _hold(found: Build, subject: str, names: list[str]) -> Data:
    derived_id, _, number = subject.rpartition("/")
    waiting = sorted(
        {other.id for other in found.spec.operations if any(name in other.after for name in names)}
    )
    hold: Data = {"subject": subject, "operations": names, "holds_up": waiting}
    if number.isdigit() and (derived_id, int(number)) in found.derived:
        one = found.spec.derived[derived_id]
        parts = [found.spec.characteristics[name].part for name in one.of]
        fill = found.derived[derived_id, int(number)]
        return {
            **hold,
            "title": one.title,
            "result": fill.verdict["result"],
            "number": int(number),
            "parts": parts,
            "reading": None,
        }
    at = next(i for i, step in enumerate(found.steps) if step.subject_id == subject)
    step = found.steps[at]
    last = next(fill for fill in reversed(found.fills[at : at + step.repeats]) if fill is not None)
    return {
        **hold,
        "title": title_of(found.spec, step.kind, step.subject),
        "result": last.result,
        "number": step.number,
        "parts": [step.part] if step.part else [],
        "reading": last.press,
    }


def title_of(spec: Spec, kind: Kind, subject: str) -> str:
    """The title of what an operation or step is about."""
    if kind == "measure":
        return spec.characteristics[subject].title
    if kind == "confirm":
        return spec.confirmations[subject].title
    if kind == "tighten":
        return spec.fasteners[subject].title
    return spec.turning_tests[subject].title


def steps(desk: Desk, build_id: str) -> list[Data]:
    """Every step of a build with what answers it. Raises NotFound."""
    found = desk.build(build_id)
    made = []
    for at, step in enumerate(found.steps):
        fill = found.fills[at]
        made.append(
            {
                "id": step.id,
                "kind": step.kind.value,
                "operation": step.operation,
                "characteristic": step.subject,
                "part": step.part,
                "number": step.number,
                "point": step.point,
                "repeat": step.repeat,
                "pass": found.pass_of(step),
                "done": fill is not None,
                "open": fill is None and found.is_open(at),
                "reading": None if fill is None else fill.press,
                "entry": None if fill is None else fill.seq,
                "result": None if fill is None else fill.result,
            }
        )
    return made


def next_step(desk: Desk, build_id: str) -> Data:
    """What a build wants next, and what waits to be settled. Raises NotFound."""
    found = desk.build(build_id)
    at = None if found.closed else found.next_index()
    return {
        "build": build_id,
        "step": None if at is None else describe(found, found.steps[at]),
        "chosen": at is not None and at == found.chosen,
        "waiting": holds(found),
        "steps_done": found.filled,
        "steps_total": len(found.steps),
        "done": found.done,
    }


def describe(found: Build, step: Step) -> Data:
    """A step in full: where, with what, within which limits, and what to beware of."""
    spec = found.spec
    part = None if step.part is None else spec.parts[step.part]
    details = _details(spec, step)
    return {
        **found.placement(step),
        "title": title_of(spec, step.kind, step.subject),
        "part_title": None if part is None else part.title,
        "position": None if part is None else part.position,
        "count": 1 if part is None else part.count,
        "repeats": step.repeats,
        "instruments": list(step.instruments),
        "unit": step.unit or None,
        "lower": plain(step.limits.lower),
        "upper": plain(step.limits.upper),
        **details,
    }


def _details(spec: Spec, step: Step) -> Data:
    found: Data = {"nominal_size": None, "target": None, "text": None, "stage": None}
    if step.kind == "measure":
        one = spec.characteristics[step.subject]
        found.update(nominal_size=plain(one.nominal_size), cautions=list(one.cautions))
    elif step.kind == "confirm":
        asked = spec.confirmations[step.subject]
        found.update(text=asked.text, cautions=list(asked.cautions))
    elif step.kind == "tighten":
        group = spec.fasteners[step.subject]
        stage = next(stage for stage in group.stages if stage.id == step.point)
        found.update(
            target=plain(stage.target),
            stage=stage.title,
            lubricant=group.lubricant,
            torque_to_yield=group.torque_to_yield,
            cautions=list(group.cautions),
        )
    else:
        found.update(cautions=list(spec.turning_tests[step.subject].cautions))
    return found


def instruments(desk: Desk) -> list[Data]:
    """Instruments on record with their setting."""
    return [instrument(desk, name) for name in desk.instruments]


def instrument(desk: Desk, name: str) -> Data:
    """One instrument on record. Raises NotFound."""
    record = desk.instruments.get(name)
    if record is None:
        raise NotFound(
            f"This bench has no instrument {name}.",
            mend=f"It has: {', '.join(desk.instruments) or 'none'}.",
        )
    setting = desk.settings.get(name)
    return {
        **record.instrument.to_body(),
        "seq": record.seq,
        "setting": None
        if setting is None
        else {
            "standard": setting.setting.standard,
            "size": plain(setting.setting.size),
            "unit": setting.setting.unit,
            "expanded_uncertainty": plain(setting.setting.expanded_uncertainty),
            "coverage_factor": plain(setting.setting.coverage_factor),
            "at": setting.at,
            "seq": setting.seq,
        },
    }
