"""The folded state as plain data for front ends: strings, integers, booleans, lists and dicts.

Every function reads a ``Desk`` and changes nothing. This module is imported at start, long before
there is a desk, so it imports only names for types from what a desk is made of.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from capture import belong, titles
from capture.errors import NotFound
from capture.quantity import plain
from capture.titles import describe

if TYPE_CHECKING:
    from capture.build import Build
    from capture.desk import Card, Desk
    from capture.spec.model import Derived, Spec

Data = dict[str, Any]


def specs(desk: Desk) -> list[Data]:
    """Specs on record, oldest first."""
    return [spec(desk, digest) for digest in desk.specs]


def spec(desk: Desk, digest: str) -> Data:
    """One spec's summary. Raises NotFound."""
    record = desk.specs.get(digest)
    if record is None:
        raise NotFound(
            f"There is no spec {digest}.",
            mend="List the specs: GET /v1/specs, or /specs in a browser.",
        )
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
    counts = _counts(found)
    readings, checks = counts["readings"], counts["gauge_checks"]
    return {
        **_card(desk, desk.cards[build_id]),
        "state": _state(found),
        "invented": found.spec.invented,
        "notice": found.spec.notice,
        "decision_rule": _rule(found.spec),
        "steps_done": found.filled,
        "steps_total": len(found.steps),
        "results": {word: readings[word] + checks[word] for word in RESULTS},
        "counts": counts,
        "operations": [_operation(found, name) for name in found.works],
        "derived": [_derived(found, name, number) for name, number in sorted(found.derived)],
        "holds": holds(found),
        "concessions": [
            {"subject": subject, "reason": reason} for subject, reason in found.conceded.items()
        ],
        "pieces": [
            {"part": part, "number": number, "piece": piece}
            for (part, number), piece in sorted(found.pieces.named.items())
        ],
        "open_sets": open_sets(desk, found),
        "cautions": list(found.spec.cautions),
    }


RESULTS = ("conforming", "nonconforming", "undecided", "not_evaluated")
GAUGE_CHECKS = ("zero", "check", "study")
"""Kinds of steps that are about gauges and tools, not about the engine."""


def _counts(found: Build) -> Data:
    """How many results there are of each, told apart by what they are about."""
    counts = {name: dict.fromkeys(RESULTS, 0) for name in ("readings", "derived", "gauge_checks")}
    for step, fill in zip(found.steps, found.fills, strict=True):
        if fill is not None and fill.press is not None:
            name = "gauge_checks" if step.kind in GAUGE_CHECKS else "readings"
            counts[name][fill.result] += 1
    for derived in found.derived.values():
        counts["derived"][str(derived.verdict["result"])] += 1
    return counts


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
        "title": titles.title_of(found.spec, work.operation.kind, work.operation.subject),
        "done": work.filled,
        "total": work.total,
        "open": found.is_open_work(work),
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
        parts = list(dict.fromkeys(belong.part_of(found.spec, name) for name in one.of))
        fill = found.derived[derived_id, int(number)]
        return {
            **hold,
            "title": one.title,
            "result": fill.verdict["result"],
            "number": int(number),
            "parts": parts,
            "places": _places(found, one, int(number)),
            "drift": any("zero moved by" in note for note in _notes(fill.verdict)),
            "follows": None,
            "reading": None,
        }
    at = next(i for i, step in enumerate(found.steps) if step.subject_id == subject)
    step = found.steps[at]
    last = next(fill for fill in reversed(found.fills[at : at + step.repeats]) if fill is not None)
    return {
        **hold,
        "title": titles.title_of(found.spec, step.kind, step.subject),
        "result": last.result,
        "number": step.number,
        "parts": [step.part] if step.part else [],
        "places": [{"part": step.part, "number": step.number}] if step.part else [],
        "drift": bool(last.drift) or (step.kind == "zero" and last.result == "nonconforming"),
        "follows": found.stale.get(subject),
        "reading": last.press,
    }


def _notes(verdict: dict[str, object]) -> list[str]:
    notes = verdict["notes"]
    assert isinstance(notes, list)
    return notes


def _places(found: Build, derived: Derived, number: int) -> list[Data]:
    """The pieces whose sizes a derived result rests on: what can be reworked or scrapped."""
    part = belong.part_of(found.spec, derived.id)
    parts = {belong.part_of(found.spec, name) for name in derived.of}
    return [
        {"part": each, "number": at}
        for each in sorted(parts)
        for at in belong.counterpart(found.spec, part, number, each)
    ]


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
        "step": None if at is None else describe(desk, found, found.steps[at]),
        "chosen": at is not None and at == found.chosen,
        "waiting": holds(found),
        "steps_done": found.filled,
        "steps_total": len(found.steps),
        "done": found.done,
    }


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
        "temperature": _warmth(desk, name),
        "extension": _extension(desk, name),
        "set": _set(desk, name),
        "zero_due": name in desk.zeros_due,
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


def _warmth(desk: Desk, name: str) -> Data | None:
    warmth = desk.warmths.get(name)
    if warmth is None:
        return None
    return {"celsius": plain(warmth.celsius), "at": warmth.at, "seq": warmth.seq}


def _extension(desk: Desk, name: str) -> Data | None:
    kept = desk.extensions.get(name)
    if kept is None:
        return None
    said = {key: plain(getattr(kept.extension, key)) for key in ("tool_length", "length", "angle")}
    return {**said, "unit": kept.extension.unit, "seq": kept.seq}


def _set(desk: Desk, name: str) -> Data | None:
    """The readings of a comparative gauge since it was last on its standard: without a closing
    check nothing says that its zero has stayed."""
    kept = desk.zeros.get(name)
    if kept is None:
        return None
    return {"opened": kept.opened, "readings": len(kept.presses), "closed": not kept.presses}


def open_sets(desk: Desk, found: Build) -> list[Data]:
    """Sets with readings of this build that no closing zero check has looked at."""
    sets = [(name, kept) for name, kept in desk.zeros.items()]
    sets += [(name, kept) for name, some in desk.unclosed.items() for _, _, kept in some]
    return [
        {"instrument": name, "opened": kept.opened, "readings": count}
        for name, kept in sets
        if (count := sum(press in found.press_at for press in kept.presses))
    ]
