"""What opens a build's steps again: rework, scrap, a set measured anew, pieces that move."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Mapping

from capture.build import Build, Fill
from capture.work import Work

Order = Mapping[int, int]
"""Number → the number whose piece comes to it."""


def rework(build: Build, part: str, number: int) -> None:
    """Reopens the steps of this piece and those that rest on it, as a new pass."""
    for work in build.works.values():
        if build.part_of(work) == part:
            _reopen(build, work, number)
    _reopen_after(build, part, {number})


def scrap(build: Build, part: str, number: int) -> None:
    """The piece is rejected: its steps reopen, and a nameless successor takes its place."""
    rework(build, part, number)
    build.pieces.scrap(part, number)


def remeasure(build: Build, steps: Iterable[str]) -> None:
    """Opens these steps again as a new pass: a set of readings whose gauge had drifted."""
    opened = set()
    for name in steps:
        at = build.index[name]
        if build.fills[at] is not None:
            build.clear(at)
            opened.add((build.steps[at].operation, build.steps[at].number))
    for key in opened:
        build.passes[key] = build.passes.get(key, 1) + 1


def assign(build: Build, part: str, number: int, piece: str) -> None:
    """Puts a piece at a position; one that stood elsewhere changes places with it.

    What is derived at both numbers is dropped, and derived anew as the entry that moved them is
    decided.
    """
    other = build.pieces.where(part, piece)
    if other == number:
        return
    if other is None:
        rework(build, part, number)  # a piece new to the engine: measured as the first one was
        build.pieces.put(part, number, piece)
    else:
        move(build, part, {number: other, other: number})
    build.look_again()


def move(build: Build, part: str, order: Order) -> None:
    """Moves pieces between positions. Sizes belong to the piece, and so do concessions on them:
    both move with it. What rests on the pieces reopens where one changed."""
    order = {to: of for to, of in order.items() if to != of}
    would = moved(build, part, order)
    conceded = _conceded(build, part, order)
    pieces = {to: build.pieces.at(part, of) for to, of in order.items()}
    for at in would:
        build.clear(at)
    for at, fill in would.items():
        if fill is not None:
            build.fill(at, fill)
    for subject, reason in conceded.items():
        build.concede(subject, reason)
    for work in build.works.values():
        if work.operation.kind != "measure" and build.part_of(work) == part:
            for number in order:  # what was confirmed or felt of it was so of the piece before
                _reopen(build, work, number)
    _reopen_after(build, part, set(order))
    for at in would:
        build.limits_moved(at)
    for number, piece in pieces.items():
        assert piece is not None
        build.pieces.put(part, number, piece)
    build.look_again()


def moved(build: Build, part: str, order: Order) -> dict[int, Fill | None]:
    """What would answer each step of a part's sizes if its pieces moved so."""
    would: dict[int, Fill | None] = {}
    for to, of in order.items():
        here, there = _sizes(build, part, to), _sizes(build, part, of)
        would.update(zip(here, (build.fills[at] for at in there), strict=True))
    return would


def _sizes(build: Build, part: str, number: int) -> list[int]:
    """The steps that measure one of a part."""
    return [
        at
        for work in build.works.values()
        if work.operation.kind == "measure" and build.part_of(work) == part
        for at in range(work.start, work.stop)
        if build.steps[at].number == number
    ]


def _conceded(build: Build, part: str, order: Order) -> dict[str, str]:
    """Concessions on the sizes that move, by the subjects they have where they come."""
    found = {}
    for to, of in order.items():
        for here, there in zip(_sizes(build, part, to), _sizes(build, part, of), strict=True):
            reason = build.conceded.get(build.steps[there].subject_id)
            if reason is not None:
                found[build.steps[here].subject_id] = reason
    return found


def _reopen_after(build: Build, part: str, numbers: set[int]) -> None:
    """Reopens what rests on pieces: the operations that come after one that is about them, at the
    same places where both count the same position, wholly where they do not (a crank that comes
    out undoes every cap)."""
    for work, number in _resting(build, part, numbers):
        _reopen(build, work, number)


def reopened(build: Build, part: str, numbers: set[int]) -> list[int]:
    """The steps that ``_reopen_after`` would clear."""
    return [
        at
        for work, number in _resting(build, part, numbers)
        for at in range(work.start, work.stop)
        if number in (None, build.steps[at].number)
    ]


def _resting(build: Build, part: str, numbers: set[int]) -> Iterator[tuple[Work, int | None]]:
    """(operation, number) of what rests on pieces; None for all its numbers."""
    known = build.spec.parts
    places = {known[part].place(number) for number in numbers}
    own = [w.operation.id for w in build.works.values() if build.part_of(w) == part]
    for name in _dependents(build, own):
        work = build.works[name]
        other = build.part_of(work)
        if other == part:
            continue
        if other is None or known[other].position != known[part].position:
            yield work, None
        else:
            for number in range(1, known[other].count + 1):
                if known[other].place(number) in places:
                    yield work, number


def _dependents(build: Build, names: list[str]) -> set[str]:
    found: set[str] = set()
    queue = deque(names)
    while queue:
        name = queue.popleft()
        for operation in build.spec.operations:
            if name in operation.after and operation.id not in found:
                found.add(operation.id)
                queue.append(operation.id)
    return found


def _reopen(build: Build, work: Work, number: int | None) -> None:
    cleared: set[int] = set()
    for at in range(work.start, work.stop):
        step = build.steps[at]
        if build.fills[at] is not None and number in (None, step.number):
            build.clear(at)
            cleared.add(step.number)
    for each in cleared:
        key = (work.operation.id, each)
        build.passes[key] = build.passes.get(key, 1) + 1
