"""Derived quantities: each at every number of its part, with the readings it rests on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from capture import belong
from capture.build import Build
from capture.derive import clearances_at
from capture.evaluate import measured_of
from capture.inquiry.glance.cells import limited
from capture.inquiry.glance.rounded import alike, shown
from capture.inquiry.glance.shape import Derived, DerivedRow, Most, Some, Tally
from capture.inquiry.glance.some import numbers
from capture.inquiry.glance.tables import LEAST_ROWS, NOTED
from capture.quantity import Number, plain
from capture.spec import model
from capture.spec.model import Quantity

READINGS_MOST = 32
"""Readings named behind one result."""


def derived(build: Build, name: str, most: Most) -> Derived:
    """One derived quantity."""
    one = build.spec.derived[name]
    part = build.spec.parts[belong.part_of(build.spec, name)]
    found = {
        number: fill
        for number in range(1, part.count + 1)
        if (fill := build.derived.get((name, number))) is not None
    }
    counts = Counter(str(fill.verdict["result"]) for fill in found.values())
    counts["missing"] = part.count - len(found)
    urgent = [n for n, fill in found.items() if fill.verdict["result"] in NOTED]
    room = max(LEAST_ROWS, most.cells // max(1, len(build.spec.derived)))
    chosen = numbers(part.count, urgent, min(most.rows, room))
    return Derived(
        id=name,
        title=one.title,
        quantity=one.quantity.value,
        unit=one.unit,
        part=part.id,
        part_title=part.title,
        position=part.position,
        basis=one.basis.value if one.quantity is Quantity.CLEARANCE else "",
        formula="" if one.formula is None else one.formula.text,
        of=one.of,
        limits=limited(one.limits),
        target=plain(one.target),
        cautions=one.cautions,
        rows=Some(_rows(build, one, chosen), part.count - len(chosen)),
        tally=Tally(*(counts[field] for field in Tally._fields)),
    )


def _rows(build: Build, one: model.Derived, chosen: Iterable[int]) -> tuple[DerivedRow, ...]:
    rows = [_row(build, one, number) for number in chosen]
    said = alike([row.shown for row in rows])
    return tuple(row._replace(shown=each) for row, each in zip(rows, said, strict=True))


def _row(build: Build, one: model.Derived, number: int) -> DerivedRow:
    subject, fill = f"{one.id}/{number}", build.derived.get((one.id, number))
    conceded = build.conceded.get(subject)
    if fill is None:
        return DerivedRow(
            number, None, None, "", None, None, None, (), None, (), conceded, False, ()
        )
    verdict = fill.verdict
    expanded, coverage = (
        _text(verdict[key]) for key in ("expanded_uncertainty", "coverage_factor")
    )
    limits = limited(one.limits)
    value = measured_of(verdict)
    grounds = (limits.lower, limits.upper, expanded)
    notes = verdict["notes"]
    assert isinstance(notes, list)
    return DerivedRow(
        number=number,
        value=str(verdict["measured"]),
        shown=shown(value, *grounds),
        result=str(verdict["result"]),
        expanded=expanded,
        coverage=coverage,
        rule=_text(verdict["rule"]),
        notes=tuple(notes),
        entry=fill.seq,
        readings=tuple(readings_under(build, one.id, number)[:READINGS_MOST]),
        conceded=conceded,
        held=any(subject in work.holds for work in build.works_under(one.id)),
        points=_points(build, one, number, grounds),
    )


def _points(
    build: Build, one: model.Derived, number: int, grounds: tuple[str | None, ...]
) -> tuple[tuple[str, str], ...]:
    found = clearances_at(build, one, number)
    if len(found) < 2:
        return ()
    return tuple((at["point"], shown(_number(at["value"]), *grounds)) for at in found)


def _number(written: str) -> Number:
    return measured_of({"measured": written})


def readings_under(build: Build, name: str, number: int) -> list[int]:
    """Seqs of the readings that a size or derived quantity at a number rests on, in order."""
    spec = build.spec
    found: set[int] = set()
    left = [(name, number)]
    seen = set(left)
    while left:
        each, at = left.pop()
        if each in spec.characteristics:
            found.update(_presses(build, each, at))
            continue
        for source in spec.derived[each].of:
            part, own = belong.part_of(spec, source), belong.part_of(spec, each)
            for there in belong.counterpart(spec, own, at, part):
                if (source, there) not in seen:
                    seen.add((source, there))
                    left.append((source, there))
    return sorted(found)


def _presses(build: Build, name: str, number: int) -> list[int]:
    """Of the last operation that has measured them all, as ``sized.sizes_of`` takes them."""
    one = build.spec.characteristics[name]
    per = len(one.points) * one.repeats
    for work in reversed(build.works_of(name)):
        start = work.start + (number - 1) * per
        fills = build.fills[start : start + per]
        if fills and all(fill is not None for fill in fills):
            return [fill.press for fill in fills if fill is not None and fill.press is not None]
    return []


def _text(value: object) -> str | None:
    return None if value is None else str(value)
