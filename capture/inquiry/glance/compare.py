"""Two builds side by side: every size, pull, turning torque and derived quantity that both have.

What is compared has the same operation (or derived quantity), number and point in both. Two
revisions of a spec are compared by what both have under the same id; what only one has is named.
Differences are exact: the second less the first, in the unit of the first. What is only known to
lie between two ends (leaves, settings that clicked and turned) has no difference.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple

from capture import belong
from capture.build import Build
from capture.errors import UnitError
from capture.evaluate import measured_of
from capture.inquiry.glance.cells import cell, limited
from capture.inquiry.glance.rounded import alike, shown, signed
from capture.inquiry.glance.shape import Data, Limited, Most, Some
from capture.inquiry.glance.some import some
from capture.inquiry.glance.still import Still
from capture.quantity import Number, convert, exact, text
from capture.shapes import mean
from capture.spec.model import Kind
from capture.titles import limits_now, title_of

COMPARED = (Kind.MEASURE, Kind.TIGHTEN, Kind.TURN)
Key = tuple[int, str]
"""Number and point (or stage)."""


class Beside(NamedTuple):
    """One build's value of what is compared."""

    size: Number | None
    """Exactly, in ``unit``; None where only a bracket is known."""
    value: str
    shown: str
    result: str
    expanded: str | None
    unit: str
    limits: Limited | None
    reading: int | None
    """Seq of the press, of repeats the last one's; None of a derived quantity."""
    entry: int
    conceded: str | None
    bracket: tuple[str | None, str | None] | None = None
    """The ends that a single reading lies between, where it is a bracket."""


class Compared(NamedTuple):
    """One value of both."""

    number: int
    point: str
    one: Beside | None
    other: Beside | None
    difference: str | None
    """The other less the one, every digit; None where either is missing or a bracket, or the
    units do not convert."""
    shown: str | None
    """The same, rounded for reading, with its sign."""
    differ: bool
    """Both are there and their results are not the same."""


class Side(NamedTuple):
    """A table of values that two builds have."""

    id: str
    kind: str
    """``measure``, ``tighten``, ``turn`` or ``derived``."""
    title: str
    position: str
    unit: str
    rows: Some[Compared]
    compared: int
    """Values that both have."""
    differ: int
    """Of those, how many have another result."""


class Comparison(NamedTuple):
    """Two builds."""

    one: Data
    """As ``GET /v1/builds/{id}``."""
    other: Data
    specs: tuple[Data, Data]
    """As ``GET /v1/specs/{id}``."""
    sides: Some[Side]
    only_one: Some[str]
    """Ids of operations and derived quantities that the other's spec does not have so."""
    only_other: Some[str]
    compared: int
    differ: int

    @property
    def same_spec(self) -> bool:
        """Whether both were built against the very same spec."""
        return bool(self.one["spec"] == self.other["spec"])


def compare(one: Still, other: Still, most: Most) -> Comparison:
    """What both have; sizes of both stay in their own words and digits."""
    here, there = _names(one.build), _names(other.build)
    shared = [name for name in here if there.get(name) == here[name]]
    room = max(4, min(most.rows, most.cells // max(1, 2 * len(shared))))
    sides = [
        _derived(one.build, other.build, name, room)
        if here[name] == ("derived", name)
        else _steps(one.build, other.build, name, room)
        for name in shared
    ]
    return Comparison(
        one=one.state(),
        other=other.state(),
        specs=(one.spec(), other.spec()),
        sides=some(sides, most.tables),
        only_one=some([name for name in here if name not in shared], most.rows),
        only_other=some([name for name in there if there[name] != here.get(name)], most.rows),
        compared=sum(side.compared for side in sides),
        differ=sum(side.differ for side in sides),
    )


def _names(build: Build) -> dict[str, tuple[str, str]]:
    """What can be compared: id → what it is and what it is of, in the order of work."""
    found = {
        name: (work.operation.kind.value, work.operation.subject)
        for name, work in build.works.items()
        if work.operation.kind in COMPARED
    }
    # An operation's id may be a derived quantity's too; the operation then stands for itself.
    return found | {name: ("derived", name) for name in build.spec.derived if name not in found}


def _steps(one: Build, other: Build, name: str, room: int) -> Side:
    work = one.works[name]
    first, second = _spans(one, name), _spans(other, name)
    keys = list(dict.fromkeys([*first, *second]))
    pairs = {key: (_result(one, first.get(key)), _result(other, second.get(key))) for key in keys}
    chosen = _chosen(keys, pairs, room)
    start = one.steps[work.start]
    return Side(
        id=name,
        kind=work.operation.kind.value,
        title=title_of(one.spec, work.operation.kind, work.operation.subject),
        position="" if start.part is None else one.spec.parts[start.part].position,
        unit=start.unit,
        rows=Some(
            tuple(
                _compared(key, _beside(one, first.get(key)), _beside(other, second.get(key)))
                for key in chosen
            ),
            len(keys) - len(chosen),
        ),
        compared=sum("" not in pair for pair in pairs.values()),
        differ=sum(_differ(pair) for pair in pairs.values()),
    )


def _spans(build: Build, name: str) -> dict[Key, range]:
    """The indexes of the repeats of each point."""
    work = build.works[name]
    found = {}
    at = work.start
    while at < work.stop:
        step = build.steps[at]
        found[step.number, step.point] = range(at, at + step.repeats)
        at += step.repeats
    return found


def _result(build: Build, span: range | None) -> str:
    """Empty where nothing is there."""
    for at in span or ():
        fill = build.fills[at]
        if fill is not None:
            return fill.result
    return ""


def _differ(pair: tuple[str, str]) -> bool:
    return "" not in pair and pair[0] != pair[1]


def _chosen(keys: Sequence[Key], pairs: Mapping[Key, tuple[str, str]], room: int) -> Sequence[Key]:
    """What differs before what does not, where there is not room for all; in their order."""
    if len(keys) <= room:
        return keys
    first = [key for key in keys if _differ(pairs[key])][:room]
    kept = set(first)
    rest = [key for key in keys if key not in kept][: room - len(first)]
    kept.update(rest)
    return [key for key in keys if key in kept]


def _beside(build: Build, span: range | None) -> Beside | None:
    if span is None:
        return None
    step = build.steps[span.start]
    made = cell(build, span, limits_now(build, step), held=False)
    fills = [fill for at in span if (fill := build.fills[at]) is not None]
    sizes = [fill.value for fill in fills if fill.value is not None]
    if made.value is None or made.shown is None:
        return None
    last = made.taken[-1]
    size = None if any(fill.bracket is not None for fill in fills) else mean(sizes)
    return Beside(
        size, made.value, made.shown, made.result, made.expanded, step.unit, made.limits,
        last.reading, last.entry, made.conceded, last.bracket if len(fills) == 1 else None,
    )  # fmt: skip


def _derived(one: Build, other: Build, name: str, room: int) -> Side:
    derived = one.spec.derived[name]
    part = one.spec.parts[belong.part_of(one.spec, name)]
    count = max(part.count, other.spec.parts[belong.part_of(other.spec, name)].count)
    keys: list[Key] = [(number, "") for number in range(1, count + 1)]
    pairs = {
        key: (_derived_result(one, name, key[0]), _derived_result(other, name, key[0]))
        for key in keys
    }
    chosen = _chosen(keys, pairs, room)
    return Side(
        id=name,
        kind="derived",
        title=derived.title,
        position=part.position,
        unit=derived.unit,
        rows=Some(
            tuple(
                _compared(
                    key,
                    _derived_beside(one, name, key[0]),
                    _derived_beside(other, name, key[0]),
                )
                for key in chosen
            ),
            len(keys) - len(chosen),
        ),
        compared=sum("" not in pair for pair in pairs.values()),
        differ=sum(_differ(pair) for pair in pairs.values()),
    )


def _derived_result(build: Build, name: str, number: int) -> str:
    fill = build.derived.get((name, number))
    return "" if fill is None else str(fill.verdict["result"])


def _derived_beside(build: Build, name: str, number: int) -> Beside | None:
    fill = build.derived.get((name, number))
    if fill is None:
        return None
    derived, value = build.spec.derived[name], measured_of(fill.verdict)
    limits, said = limited(derived.limits), fill.verdict["expanded_uncertainty"]
    expanded = None if said is None else str(said)
    return Beside(
        size=value,
        value=text(value),
        shown=shown(value, limits.lower, limits.upper, expanded),
        result=str(fill.verdict["result"]),
        expanded=expanded,
        unit=derived.unit,
        limits=limits,
        reading=None,
        entry=fill.seq,
        conceded=build.conceded.get(f"{name}/{number}"),
    )


def _compared(key: Key, one: Beside | None, other: Beside | None) -> Compared:
    difference, said = None, None
    if one is not None and other is not None:
        difference = _difference(one, other)
        if difference is not None:
            said = shown(difference, *_decimals_of(one), *_decimals_of(other))
            if one.reading is None:  # derived ones are rounded alike, and their difference too
                here, there, said = alike([one.shown, other.shown, said])
                one, other = one._replace(shown=here or ""), other._replace(shown=there or "")
            said = signed(said or "") if difference else said
    results = ("" if one is None else one.result, "" if other is None else other.result)
    return Compared(
        number=key[0],
        point=key[1],
        one=one,
        other=other,
        difference=None if difference is None else text(difference),
        shown=said,
        differ=_differ(results),
    )


def _difference(one: Beside, other: Beside) -> Number | None:
    """Exactly; None where either is a bracket, or the units measure different things."""
    if one.size is None or other.size is None:
        return None
    try:
        there = convert(other.size, other.unit, one.unit)
    except UnitError:
        return None
    return exact(Fraction(there) - Fraction(one.size))


def _decimals_of(side: Beside) -> tuple[str | None, ...]:
    lower, upper = (None, None) if side.limits is None else side.limits
    return lower, upper, side.expanded
