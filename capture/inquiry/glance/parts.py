"""Every part of the engine at a glance: its numbers, the worst result on each, what is missing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from capture import belong
from capture.build import Build
from capture.inquiry.glance.shape import Most, PartLine, Placed, Some, Tally
from capture.inquiry.glance.some import numbers
from capture.inquiry.glance.tables import NOTED

WORST_FIRST = ("nonconforming", "undecided", "conforming", "not_evaluated")


@dataclass(slots=True)
class _Seen:
    """What was seen of one number."""

    results: set[str] = field(default_factory=set)
    missing: int = 0
    conceded: int = 0
    held: bool = False
    passes: int = 1


def parts(build: Build, most: Most) -> list[PartLine]:
    """The parts that something is measured, confirmed or tightened on, in the spec's order."""
    seen: dict[tuple[str, int], _Seen] = {}
    tallies: dict[str, Counter[str]] = {}
    _steps(build, seen, tallies)
    _derived(build, seen)
    by_part: dict[str, dict[int, _Seen]] = {}
    for (part, number), one in seen.items():
        by_part.setdefault(part, {})[number] = one
    return [
        _line(build, part, by_part[part], tallies[part], most)
        for part in build.spec.parts
        if part in tallies
    ]


def _steps(
    build: Build, seen: dict[tuple[str, int], _Seen], tallies: dict[str, Counter[str]]
) -> None:
    held = {subject for work in build.works.values() for subject in work.holds}
    for step, fill in zip(build.steps, build.fills, strict=True):
        if step.part is None:
            continue
        one = seen.setdefault((step.part, step.number), _Seen())
        counts = tallies.setdefault(step.part, Counter())
        one.passes = max(one.passes, build.pass_of(step))
        if fill is None:
            one.missing += 1
            counts["missing"] += 1
        elif fill.press is not None:
            one.results.add(fill.result)
            counts[fill.result] += 1
        if step.repeat == 1:
            one.conceded += step.subject_id in build.conceded
            one.held = one.held or step.subject_id in held


def _derived(build: Build, seen: dict[tuple[str, int], _Seen]) -> None:
    """Derived results count for the number of their own part."""
    held = {subject for work in build.works.values() for subject in work.holds}
    for (name, number), fill in build.derived.items():
        one = seen.setdefault((belong.part_of(build.spec, name), number), _Seen())
        one.results.add(str(fill.verdict["result"]))
        subject = f"{name}/{number}"
        one.conceded += subject in build.conceded
        one.held = one.held or subject in held


def _line(
    build: Build, part: str, seen: dict[int, _Seen], counts: Counter[str], most: Most
) -> PartLine:
    one = build.spec.parts[part]
    urgent = [n for n, found in seen.items() if found.held or found.results.intersection(NOTED)]
    chosen = numbers(one.count, urgent, most.rows)
    return PartLine(
        part=part,
        title=one.title,
        position=one.position,
        how_many=one.count,
        tally=Tally(*(counts[name] for name in Tally._fields)),
        numbers=Some(
            tuple(_placed(build, part, n, seen.get(n, _Seen())) for n in chosen),
            one.count - len(chosen),
        ),
    )


def _placed(build: Build, part: str, number: int, found: _Seen) -> Placed:
    return Placed(
        number=number,
        piece=build.pieces.named.get((part, number)),
        result=worst(found.results),
        missing=found.missing,
        conceded=found.conceded,
        held=found.held,
        passes=found.passes,
    )


def worst(results: Iterable[str]) -> str:
    """The result to look at first; empty where there is none. What has no limits counts least."""
    known = set(results)
    return next((word for word in WORST_FIRST if word in known), "")
