"""Warnings about a spec on one bench: what nobody can do there, and what would not count.

``capture.spec.advice`` looks at a spec alone; this holds it against the instruments it would be
worked with.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches
from fractions import Fraction
from typing import Final, NamedTuple

from capture.errors import Problem
from capture.instrument import Instrument
from capture.quantity import convert, dimension
from capture.spec import syntax
from capture.spec.coarse import fineness
from capture.spec.limits import span
from capture.spec.lines import Path
from capture.spec.model import (
    Characteristic,
    Fastener,
    Kind,
    Operation,
    Spec,
    Study,
    ToolCheck,
    TurningTest,
    ZeroCheck,
)
from capture.spec.problems import Problems, choose

Measured = Characteristic | Fastener | TurningTest | ZeroCheck | Study | ToolCheck
"""What needs an instrument."""
TABLES: Final = {
    Kind.MEASURE: "characteristic",
    Kind.TIGHTEN: "fastener",
    Kind.TURN: "turning_test",
    Kind.ZERO: "zero_check",
    Kind.STUDY: "study",
    Kind.CHECK: "tool_check",
}
"""Kind of an operation → the tables of the spec that say more about it."""


_LOOKED_BEHIND: Final = 100
"""Operations that nobody can do, of which is told what they keep from being reached."""


class Need(NamedTuple):
    """What an operation needs of a bench."""

    kinds: tuple[str, ...]
    unit: str


def needs(spec: Spec, operation: Operation) -> list[Need]:
    """What an operation needs: several of a group whose stages differ in unit, nothing for a
    confirmation."""
    if operation.kind is Kind.CONFIRM:
        return []
    if operation.kind is Kind.TIGHTEN:
        group = spec.fasteners[operation.subject]
        units = dict.fromkeys(stage.unit for stage in group.stages)
        return [Need(group.instruments, unit) for unit in units]
    one = _subjects(spec, operation.kind)[operation.subject]
    assert not isinstance(one, Fastener)
    return [Need(one.instruments, one.unit)]


def suited(need: Need, bench: Iterable[Instrument]) -> list[Instrument]:
    """The instruments that can give what is needed."""
    return [
        one
        for one in bench
        if one.kind in need.kinds and dimension(one.unit) == dimension(need.unit)
    ]


def bench_warnings(
    spec: Spec, bench: Sequence[Instrument], day: str, file: str = ""
) -> tuple[Problem, ...]:
    """What would go wrong with ``spec`` on a bench with these instruments; ``day`` (YYYY-MM-DD) is
    the day it is worked on."""
    problems = Problems(syntax.parse(spec.text, file))
    _coarse(spec, bench, problems)
    _out_of_reach(spec, bench, problems)
    _overdue(spec, bench, day, problems)
    _nobody(spec, bench, day, problems)
    return problems.located(spec.text, file or spec.id)


def _coarse(spec: Spec, bench: Sequence[Instrument], problems: Problems) -> None:
    for row in fineness(spec, bench):
        if row.empty:
            mend = "use a finer instrument, or ask for another kind in instruments"
            problems.add(_said_where(row.path), row.note.rstrip("."), mend)
        elif row.subject.startswith("tool check "):
            index = list(spec.tool_checks).index(row.subject.removeprefix("tool check "))
            message, _, mend = row.note.partition(" Mend: ")
            path = ("tool_check", index, "tool")
            problems.add(path, message.rstrip("."), mend.rstrip("."))


def _said_where(path: Path) -> Path:
    """The line of a tolerance that says most: with what it is measured, or how wide it is."""
    key = {"derived": "upper_limit", "fastener": "target"}.get(str(path[0]), "instruments")
    return (*path, key)


def _out_of_reach(spec: Spec, bench: Sequence[Instrument], problems: Problems) -> None:
    """Sizes that none of the suited instruments can show."""
    for index, size in enumerate(spec.characteristics.values()):
        there = suited(Need(size.instruments, size.unit), bench)
        if not there or any(_reaches(size, one) for one in there):
            continue
        shown = choose([f"{one.id} {_range(one)}" for one in there], 4, "and")
        message = (
            f"nothing on this bench reaches {span(size.limits)} {size.unit}: the range of {shown}"
        )
        mend = "correct the limits, or the range in bench.toml, or ask for another kind"
        problems.add(("characteristic", index, "instruments"), message, mend)


def _reaches(size: Characteristic, one: Instrument) -> bool:
    """Whether both limits are in its range; of a comparative gauge, whether they lie no further
    apart than its range is wide."""
    lower, upper = size.limits.lower, size.limits.upper
    if one.range is None:
        return True
    least, most = (Fraction(convert(end, one.unit, size.unit)) for end in one.range)
    if one.comparative:
        return lower is None or upper is None or Fraction(upper - lower) <= most - least
    return (lower is None or lower >= least) and (upper is None or upper <= most)


def _overdue(spec: Spec, bench: Sequence[Instrument], day: str, problems: Problems) -> None:
    """Each overdue instrument once, where it is first of use."""
    told: set[str] = set()
    hold = spec.decision.overdue == "hold"
    for index, operation in enumerate(spec.operations):
        for need in needs(spec, operation):
            for one in suited(need, bench):
                if one.id in told or not _is_overdue(one, day):
                    continue
                told.add(one.id)
                assert one.calibration is not None
                what = "its readings would not count" if hold else "its verdicts are marked"
                message = f"the calibration of {one.id} was due on {one.calibration.due}: {what}"
                mend = "have it calibrated, and write its new certificate into bench.toml"
                problems.add(_subject(spec, index), message, mend)


def _nobody(spec: Spec, bench: Sequence[Instrument], day: str, problems: Problems) -> None:
    """Operations that no instrument of the bench can do, and what is never reached behind them."""
    stuck: dict[str, tuple[int, str]] = {}
    for index, operation in enumerate(spec.operations):
        for need in needs(spec, operation):
            there = suited(need, bench)
            if spec.decision.overdue == "hold":
                there = [one for one in there if not _is_overdue(one, day)]
            if not there:
                stuck.setdefault(operation.id, (index, _want(need)))
    waiting = _waiting(spec)
    for number, (id_, (index, want)) in enumerate(stuck.items()):
        message = f'nobody can do "{id_}" on this bench: it wants {want}'
        some = _behind(waiting, id_) if number < _LOOKED_BEHIND else []
        behind = [one for one in some if one not in stuck]
        if behind:
            message += f"; so nobody ever gets to {_named(behind)} behind it"
        guess = _meant(needs(spec, spec.operations[index]), bench)
        known = choose(list(dict.fromkeys(one.kind for one in bench)), joint="and")
        mend = f"ask for a kind of this bench ({known})"
        if guess:
            mend = f'if "{guess}" is meant, write that; else {mend}'
        add = 'describe one in bench.toml (port = "typed" where it has no cable)'
        problems.add(_subject(spec, index), message, f"{mend}, or {add}")


def _named(ids: Sequence[str]) -> str:
    """The first three, and how many more there are."""
    quoted = [f'"{id_}"' for id_ in ids[:3]]
    more = len(ids) - 3
    return choose([*quoted, f"{more} more"] if more > 0 else quoted, joint="and")


def _want(need: Need) -> str:
    return f"an instrument of the kind {choose(need.kinds)} that shows {need.unit}"


def _meant(needed: list[Need], bench: Sequence[Instrument]) -> str | None:
    """A kind of the bench that is spelled nearly as what is asked for, and shows the unit."""
    for need in needed:
        fitting = [one.kind for one in bench if dimension(one.unit) == dimension(need.unit)]
        for kind in need.kinds:
            # nearer than ``Problems.nearest``: a micrometer is no internal micrometer
            near = get_close_matches(kind, fitting, n=1, cutoff=0.8)
            if near and near[0] != kind:
                return near[0]
    return None


def _waiting(spec: Spec) -> dict[str, list[str]]:
    """Operation → those that name it in their ``after``."""
    found: dict[str, list[str]] = {}
    for one in spec.operations:
        for before in one.after:
            found.setdefault(before, []).append(one.id)
    return found


def _behind(waiting: Mapping[str, list[str]], id_: str) -> list[str]:
    """The operations that wait for this one, however far behind it, the nearest first."""
    found = {id_: None}
    queue = [id_]
    for one in queue:
        later = [each for each in waiting.get(one, ()) if each not in found]
        found.update(dict.fromkeys(later))
        queue.extend(later)
    return queue[1:]


def _subject(spec: Spec, index: int) -> Path:
    """Where the spec says with which instruments an operation is done."""
    operation = spec.operations[index]
    known = list(_subjects(spec, operation.kind))
    return (TABLES[operation.kind], known.index(operation.subject), "instruments")


def _subjects(spec: Spec, kind: Kind) -> Mapping[str, Measured]:
    """What operations of this kind are about; not of confirmations."""
    known: Mapping[Kind, Mapping[str, Measured]] = {
        Kind.MEASURE: spec.characteristics,
        Kind.TIGHTEN: spec.fasteners,
        Kind.TURN: spec.turning_tests,
        Kind.ZERO: spec.zero_checks,
        Kind.STUDY: spec.studies,
        Kind.CHECK: spec.tool_checks,
    }
    return known[kind]


def _is_overdue(instrument: Instrument, day: str) -> bool:
    return instrument.calibration is not None and instrument.calibration.due < day


def _range(instrument: Instrument) -> str:
    assert instrument.range is not None
    low, high = instrument.range
    return f"is {low:f} to {high:f} {instrument.unit}"
