"""A spec walked from its first step to its last, as a bench would ask for them.

The order is not worked out a second time here: an empty build is opened on the spec and every
step that it wants next is answered as conforming, until it wants nothing more.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final, NamedTuple

from capture.build import Build, Fill
from capture.quantity import plain
from capture.spec.load import step_count
from capture.spec.model import Derived, Kind, Limits, Operation, Spec
from capture.spec.order_advice import measured_in
from capture.step import Step
from capture.titles import title_of

MOST: Final = 5000
"""Steps that are walked one by one; a larger spec is told by its operations alone."""
_MOST_LOOKS: Final = 2_000_000
"""Steps times operations: at every step, a build may look at all of them."""
_DONE = Fill(None, 0, None, None, None, "conforming")


class Want(NamedTuple):
    """One thing that is wanted at each of an operation's places."""

    title: str
    """Of a stage of tightening; empty for the rest."""
    unit: str
    target: str | None
    limits: Limits
    plausible: Limits


class Asked(NamedTuple):
    """One step, and which in the whole order it is, from 1."""

    nth: int
    step: Step


class Stretch(NamedTuple):
    """One operation, as it is asked."""

    operation: Operation
    title: str
    part: str | None
    """Title of the part."""
    parts: int
    """How many of the part there are."""
    total: int
    """Its steps."""
    steps: tuple[Asked, ...]
    """In the order they are asked; none in a spec too large to be walked."""
    waits_for: tuple[Operation, ...]
    instruments: tuple[str, ...]
    """Kinds suited."""
    wants: tuple[Want, ...]
    follows: str | None
    """What its limits follow from, and by which factors, where they do."""
    text: str | None
    """What is confirmed."""
    facts: tuple[tuple[str, str], ...]
    """More that the spec says of it: (``lubricant``, ``dry``), (``nominal_size``, ``20.000``)…"""
    cautions: tuple[str, ...]
    completes: tuple[Derived, ...]
    """Derived quantities that are judged with its last steps."""

    @property
    def spans(self) -> list[tuple[int, int]]:
        """Which steps of the order these are: (first, last) of each run without a gap."""
        found: list[tuple[int, int]] = []
        for nth, _ in self.steps:
            if found and found[-1][1] == nth - 1:
                found[-1] = (found[-1][0], nth)
            else:
                found.append((nth, nth))
        return found

    @property
    def numbers(self) -> list[int]:
        """The numbers of its part, in the order in which they first come."""
        return list(dict.fromkeys(one.step.number for one in self.steps))

    @property
    def points(self) -> list[str]:
        """Its points, in the order in which they first come."""
        return [point for point in dict.fromkeys(one.step.point for one in self.steps) if point]


class Walk(NamedTuple):
    """The order of work of one spec."""

    total: int
    """Steps."""
    stretches: tuple[Stretch, ...]
    """In the order in which the operations are first asked for."""
    walked: bool
    """False for a spec that is too large to be walked: then the operations stand as in the file."""
    never: tuple[str, ...]
    """Steps that are never asked for. None, in a spec that loads."""


def walk(spec: Spec, most: int = MOST) -> Walk:
    """The order of work; takes some milliseconds for each hundred steps."""
    total = sum(step_count(spec, index) for index in range(len(spec.operations)))
    asked: list[Step] = []
    never: tuple[str, ...] = ()
    walked = total <= most and total * len(spec.operations) <= _MOST_LOOKS
    if walked:
        asked, never = _asked(spec)
    of: dict[str, list[Asked]] = {}
    for nth, step in enumerate(asked, 1):
        of.setdefault(step.operation, []).append(Asked(nth, step))
    order = {one.id: index for index, one in enumerate(spec.operations)}
    first = {id_: steps[0].nth for id_, steps in of.items()}
    operations = sorted(spec.operations, key=lambda one: (first.get(one.id, total), order[one.id]))
    last = {id_: steps[-1].nth for id_, steps in of.items()}
    completes = _completes(spec, operations, last)
    by_id = {one.id: one for one in spec.operations}
    stretches = [
        _stretch(
            spec,
            one,
            step_count(spec, order[one.id]),
            of.get(one.id, ()),
            tuple(by_id[id_] for id_ in one.after),
            completes[one.id],
        )
        for one in operations
    ]
    return Walk(total, tuple(stretches), walked, never)


def _asked(spec: Spec) -> tuple[list[Step], tuple[str, ...]]:
    """The steps in the order a bench asks for them, and those it never comes to."""
    build = Build("walk", 0, spec, 0, "")
    found = []
    while (at := build.next_index()) is not None:
        found.append(build.steps[at])
        build.fill(at, _DONE)
    never = tuple(step.id for step, fill in zip(build.steps, build.fills, strict=True) if not fill)
    return found, never


def _completes(
    spec: Spec, operations: Sequence[Operation], last: dict[str, int]
) -> dict[str, list[Derived]]:
    """Operation → the derived quantities that are there once it is."""
    found: dict[str, list[Derived]] = {one.id: [] for one in operations}
    place = {one.id: index for index, one in enumerate(operations)}
    measuring = {one.subject: one.id for one in operations if one.kind is Kind.MEASURE}
    for derived in spec.derived.values():
        sources = [measuring.get(id_) for id_ in measured_in(spec, derived.id)]
        there = [id_ for id_ in sources if id_ is not None]
        if there and len(there) == len(sources):
            found[max(there, key=lambda id_: (last.get(id_, 0), place[id_]))].append(derived)
    return found


def _stretch(
    spec: Spec,
    one: Operation,
    total: int,
    steps: Sequence[Asked],
    waits_for: tuple[Operation, ...],
    completes: Sequence[Derived],
) -> Stretch:
    said = _SAID[one.kind](spec, one.subject)
    part = spec.parts.get(said.part or "")
    return Stretch(
        one,
        title_of(spec, one.kind, one.subject),
        None if part is None else part.title,
        1 if part is None else part.count,
        total,
        tuple(steps),
        waits_for,
        said.instruments,
        said.wants,
        said.follows,
        said.text,
        said.facts,
        said.cautions,
        tuple(completes),
    )


class _Said(NamedTuple):
    """What the tables of the spec say of one operation."""

    part: str | None
    instruments: tuple[str, ...]
    wants: tuple[Want, ...]
    cautions: tuple[str, ...]
    follows: str | None = None
    text: str | None = None
    facts: tuple[tuple[str, str], ...] = ()


def _measure(spec: Spec, subject: str) -> _Said:
    one = spec.characteristics[subject]
    facts = (
        [("nominal_size", f"{one.nominal_size:f} {one.unit}")]
        if one.nominal_size is not None
        else []
    )
    if one.repeats > 1:
        facts.append(("repeats", str(one.repeats)))
    if one.expansion is not None:
        facts.append(("temperature", spec.characteristics[one.expansion.temperature].title))
    follows = None
    if one.factors is not None:
        source = spec.characteristics.get(one.factors.of) or spec.derived[one.factors.of]
        ends = [plain(end) for end in (one.factors.lower, one.factors.upper)]
        follows = f"{' … '.join(end for end in ends if end is not None)} × {source.title}"
    want = Want("", one.unit, None, one.limits, one.plausible)
    return _Said(one.part, one.instruments, (want,), one.cautions, follows, None, tuple(facts))


def _confirm(spec: Spec, subject: str) -> _Said:
    one = spec.confirmations[subject]
    return _Said(one.part, (), (), one.cautions, text=one.text)


def _tighten(spec: Spec, subject: str) -> _Said:
    one = spec.fasteners[subject]
    wants = tuple(
        Want(each.title, each.unit, plain(each.target), each.limits, each.plausible)
        for each in one.stages
    )
    facts = [("order", ", ".join(map(str, one.order))), ("lubricant", one.lubricant)]
    if one.together:
        facts.append(("together", str(one.together)))
    if one.torque_to_yield:
        facts.append(("torque_to_yield", ""))
    return _Said(one.part, one.instruments, wants, one.cautions, facts=tuple(facts))


def _turn(spec: Spec, subject: str) -> _Said:
    one = spec.turning_tests[subject]
    want = Want("", one.unit, None, one.limits, one.plausible)
    return _Said(one.part, one.instruments, (want,), one.cautions)


def _zero(spec: Spec, subject: str) -> _Said:
    one = spec.zero_checks[subject]
    want = Want("", one.unit, None, _NO_LIMITS, one.plausible)
    return _Said(None, one.instruments, (want,), one.cautions)


def _study(spec: Spec, subject: str) -> _Said:
    one = spec.studies[subject]
    facts = (
        ("appraisers", ", ".join(one.appraisers)),
        ("samples", str(one.samples)),
        ("trials", str(one.trials)),
    )
    want = Want("", one.unit, None, _NO_LIMITS, one.plausible)
    return _Said(None, one.instruments, (want,), one.cautions, facts=facts)


def _check(spec: Spec, subject: str) -> _Said:
    one = spec.tool_checks[subject]
    facts = (
        ("tool", one.tool),
        ("maximum", f"{one.maximum:f} {one.unit}"),
        ("points_percent", ", ".join(f"{point:f} %" for point in one.points_percent)),
        ("permissible_deviation", f"± {one.permissible_deviation_percent:f} %"),
    )
    want = Want("", one.unit, None, _NO_LIMITS, one.plausible)
    return _Said(None, one.instruments, (want,), one.cautions, facts=facts)


_NO_LIMITS = Limits(None, None)
_SAID = {
    Kind.MEASURE: _measure,
    Kind.CONFIRM: _confirm,
    Kind.TIGHTEN: _tighten,
    Kind.TURN: _turn,
    Kind.ZERO: _zero,
    Kind.STUDY: _study,
    Kind.CHECK: _check,
}


def walk_body(found: Walk) -> dict[str, Any]:
    """The walk as JSON-ready data."""
    return {
        "steps": found.total,
        "walked": found.walked,
        "never_asked": list(found.never),
        "operations": [_stretch_body(one) for one in found.stretches],
    }


def _stretch_body(one: Stretch) -> dict[str, Any]:
    return {
        "id": one.operation.id,
        "kind": one.operation.kind.value,
        "title": one.title,
        "part": one.part,
        "parts": one.parts,
        "round": one.operation.round or None,
        "waits_for": list(one.operation.after),
        "instruments": list(one.instruments),
        "wants": [
            {
                "title": want.title or None,
                "unit": want.unit,
                "target": want.target,
                "lower": plain(want.limits.lower),
                "upper": plain(want.limits.upper),
                "plausible": [plain(want.plausible.lower), plain(want.plausible.upper)],
            }
            for want in one.wants
        ],
        "limits_follow_from": one.follows,
        "text": one.text,
        "facts": dict(one.facts),
        "cautions": list(one.cautions),
        "completes": [derived.id for derived in one.completes],
        "total": one.total,
        "steps": [
            {
                "nth": nth,
                "id": step.id,
                "number": step.number if step.part is not None else None,
                "point": step.point or None,
                "repeat": step.repeat if step.repeats > 1 else None,
            }
            for nth, step in one.steps
        ],
    }
