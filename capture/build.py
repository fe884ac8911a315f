"""The state of one build: which steps are answered, what holds them, and what is next.

A build's state is computed from ledger entries and is never the truth itself: the methods that
change it (``fill``, ``clear``, ``rework``…) are called only by ``capture.desk`` as it folds an
entry in. A step is *open* while it is unanswered and every operation its own comes after is
complete; an operation is complete when all its steps are answered and none of its results, nor
any quantity derived from them, is an unsettled nonconforming or undecided one (a *hold*).
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from typing import NamedTuple

from capture.quantity import Number
from capture.spec.model import Operation, Spec
from capture.step import Step, steps_of

SETTLED = ("conforming", "not_evaluated")
"""Results that hold nothing. Only repeats are not evaluated: until the last of them is there."""


class Fill(NamedTuple):
    """What answers a step."""

    press: int | None
    """Seq of the press; None for a confirmation."""
    seq: int
    """Seq of the entry that decided."""
    value: Number | None
    """In the step's unit."""
    expanded: str | None
    """Expanded uncertainty as in the verdict (decimal text, the step's unit)."""
    coverage: str | None
    result: str


class DerivedFill(NamedTuple):
    """The newest result of a derived quantity at one number."""

    seq: int
    verdict: dict[str, object]


class Work:
    """One operation's progress: the slice of steps that is its own, and how far it is."""

    __slots__ = ("cursor", "filled", "holds", "operation", "start", "stop")

    def __init__(self, operation: Operation, start: int, stop: int) -> None:
        self.operation = operation
        self.start = start
        self.stop = stop
        self.cursor = start
        self.filled = 0
        self.holds: set[str] = set()

    @property
    def total(self) -> int:
        return self.stop - self.start

    @property
    def answered(self) -> bool:
        return self.filled == self.stop - self.start

    @property
    def complete(self) -> bool:
        return self.answered and not self.holds


class Build:
    """One engine being built against one spec revision."""

    def __init__(self, build_id: str, seq: int, spec: Spec, spec_seq: int, title: str) -> None:
        self.id = build_id
        self.seq = seq
        self.spec = spec
        self.spec_seq = spec_seq
        self.title = title
        self.closed = False
        self.chosen: int | None = None
        self.steps: list[Step] = []
        self.works: dict[str, Work] = {}
        for operation, steps in steps_of(spec):
            start = len(self.steps)
            self.steps.extend(steps)
            self.works[operation.id] = Work(operation, start, len(self.steps))
        self.index = {step.id: number for number, step in enumerate(self.steps)}
        self.fills: list[Fill | None] = [None] * len(self.steps)
        self.filled = 0
        self.press_at: dict[int, int] = {}
        self.passes: dict[tuple[str, int], int] = {}
        self.derived: dict[tuple[str, int], DerivedFill] = {}
        self.conceded: dict[str, str] = {}
        self.pieces: dict[tuple[str, int], str] = {}
        self.scrapped: set[tuple[str, str]] = set()
        """(part, piece)"""
        self.opened_mono: tuple[int, int] = (0, 0)
        """(boot, mono) at which the current step became current."""
        self._next: int | None = None
        self._known = False
        self._measures: dict[str, list[Work]] = {}
        for work in self.works.values():
            self._measures.setdefault(work.operation.subject, []).append(work)
        self._derived_from = {name for derived in spec.derived.values() for name in derived.of}

    # what is next -----------------------------------------------------------------------------

    def next_index(self) -> int | None:
        """Index of the current step: the chosen one while it is open, else the first open one."""
        if self.chosen is not None and self.is_open(self.chosen):
            return self.chosen
        if not self._known:
            self._next = next(self.open_firsts(), None)
            self._known = True
        return self._next

    def open_firsts(self) -> Iterator[int]:
        """The first unanswered step of every operation that is open, in the order of work."""
        for work in self.works.values():
            if not work.answered and self.is_unblocked(work):
                yield self._first_unanswered(work)

    def _first_unanswered(self, work: Work) -> int:
        fills, at = self.fills, work.cursor
        while fills[at] is not None:
            at += 1
        work.cursor = at
        return at

    def is_unblocked(self, work: Work) -> bool:
        """Whether every operation this one comes after is complete."""
        return all(self.works[name].complete for name in work.operation.after)

    def is_open(self, at: int) -> bool:
        step = self.steps[at]
        return self.fills[at] is None and self.is_unblocked(self.works[step.operation])

    @property
    def done(self) -> bool:
        return self.filled == len(self.steps) and not any(w.holds for w in self.works.values())

    # folding entries in -----------------------------------------------------------------------

    def fill(self, at: int, fill: Fill) -> None:
        """Answers a step; the step must be unanswered."""
        step = self.steps[at]
        work = self.works[step.operation]
        self.fills[at] = fill
        self.filled += 1
        work.filled += 1
        if fill.press is not None:
            self.press_at[fill.press] = at
        if at == self.chosen:
            self.chosen = self._next_repeat(at)
        if step.repeats > 1:
            self._same_result(at, fill.result)
        self._hold(work, step.subject_id, fill.result)
        self.conceded.pop(step.subject_id, None)
        after = at + 1
        if self._known and self._next == at and after < work.stop and self.fills[after] is None:
            # Filling a step opens another operation only when it completes its own: so while its
            # own goes on, the next one in it is the first open one.
            self._next = after
        else:
            self._known = False

    def repeats(self, at: int) -> range:
        """The steps of the point that the step at this index is a repeat of."""
        step = self.steps[at]
        first = at - step.repeat + 1
        return range(first, first + step.repeats)

    def _next_repeat(self, at: int) -> int | None:
        """The next unanswered repeat of the same point: a choice is for all of them."""
        return next((other for other in self.repeats(at) if self.fills[other] is None), None)

    def _same_result(self, at: int, result: str) -> None:
        """Repeats are judged together: what the newest decision says holds for all of them."""
        for other in self.repeats(at):
            fill = self.fills[other]
            if fill is not None and fill.result != result:
                self.fills[other] = fill._replace(result=result)

    def _hold(self, work: Work, subject: str, result: str) -> None:
        if result in SETTLED:
            if work.holds:
                work.holds.discard(subject)
                self._known = False
        else:
            work.holds.add(subject)
            self._known = False

    def clear(self, at: int) -> None:
        """Takes a step's answer away (void, correction, rework)."""
        fill = self.fills[at]
        if fill is None:
            return
        step = self.steps[at]
        work = self.works[step.operation]
        self.fills[at] = None
        self.filled -= 1
        work.filled -= 1
        work.cursor = min(work.cursor, at)
        work.holds.discard(step.subject_id)
        self.conceded.pop(step.subject_id, None)
        if step.repeats > 1:
            self._same_result(at, "not_evaluated")
        if fill.press is not None:
            self.press_at.pop(fill.press, None)
        self._forget_derived(step.subject, step.number)
        self._known = False

    def _forget_derived(self, characteristic: str, number: int) -> None:
        for derived in self.spec.derived.values():
            key = (derived.id, number)
            if characteristic in derived.of and self.derived.pop(key, None) is not None:
                subject = f"{derived.id}/{number}"
                self.conceded.pop(subject, None)
                for work in self.works_of(*derived.of):
                    work.holds.discard(subject)

    def set_derived(self, derived_id: str, number: int, fill: DerivedFill) -> None:
        """Records a derived result; a nonconforming one holds the operations it rests on."""
        self.derived[derived_id, number] = fill
        subject = f"{derived_id}/{number}"
        self.conceded.pop(subject, None)
        for work in self.works_of(*self.spec.derived[derived_id].of):
            self._hold(work, subject, str(fill.verdict["result"]))

    def concede(self, subject: str, reason: str) -> None:
        """Settles a hold."""
        self.conceded[subject] = reason
        for work in self.works.values():
            work.holds.discard(subject)
        self._known = False

    def rework(self, part: str, number: int) -> None:
        """Reopens the steps of this piece and those that rest on it, as a new pass."""
        for work in self.works.values():
            if self._part_of(work.operation) == part:
                self._reopen(work, number)
        self._reopen_after(part, number)

    def _reopen_after(self, part: str, number: int) -> None:
        """Reopens what rests on a piece: the operations that come after one that measures it, at
        the same number where both count the same position, wholly where they do not (a crank that
        comes out undoes every cap)."""
        position = self.spec.parts[part].position
        own = [w.operation.id for w in self.works.values() if self._part_of(w.operation) == part]
        for name in self._dependents(own):
            work = self.works[name]
            other = self._part_of(work.operation)
            if other == part:
                continue
            same = other is not None and self.spec.parts[other].position == position
            self._reopen(work, number if same else None)

    def _part_of(self, operation: Operation) -> str | None:
        return next((s.part for s in self.steps[self.works[operation.id].start :][:1]), None)

    def _dependents(self, names: list[str]) -> set[str]:
        found: set[str] = set()
        queue = deque(names)
        while queue:
            name = queue.popleft()
            for operation in self.spec.operations:
                if name in operation.after and operation.id not in found:
                    found.add(operation.id)
                    queue.append(operation.id)
        return found

    def _reopen(self, work: Work, number: int | None) -> None:
        cleared: set[int] = set()
        for at in range(work.start, work.stop):
            step = self.steps[at]
            if self.fills[at] is not None and number in (None, step.number):
                self.clear(at)
                cleared.add(step.number)
        for each in cleared:
            key = (work.operation.id, each)
            self.passes[key] = self.passes.get(key, 1) + 1

    # pieces -----------------------------------------------------------------------------------

    def piece(self, part: str | None, number: int) -> str | None:
        """The piece at a position; a name of our own until one is assigned."""
        if part is None:
            return None
        return self.pieces.get((part, number)) or f"{part}-{number}"

    def where(self, part: str, piece: str) -> int | None:
        """The number at which a piece stands, if it does."""
        for number in range(1, self.spec.parts[part].count + 1):
            if self.piece(part, number) == piece:
                return number
        return None

    def assign(self, part: str, number: int, piece: str) -> None:
        """Puts a piece at a position; one that stood elsewhere changes places with it.

        Sizes belong to the piece: they move with it. What is derived at both numbers is dropped
        and derived anew (``capture.derive``) as the entry that moved them is decided.
        """
        other = self.where(part, piece)
        there = self.piece(part, number)
        assert there is not None
        if other == number:
            return
        if other is None:
            self.rework(part, number)  # a piece new to the engine: measured as the first one was
        else:
            self._swap(part, number, other)
            self.pieces[part, other] = there
            self._reopen_after(part, number)
            self._reopen_after(part, other)
        self.pieces[part, number] = piece
        self._known = False

    def _sizes(self, part: str, number: int) -> list[tuple[int, Fill | None]]:
        found = []
        for work in self.works.values():
            if work.operation.kind == "measure" and self._part_of(work.operation) == part:
                found += [
                    (at, self.fills[at])
                    for at in range(work.start, work.stop)
                    if self.steps[at].number == number
                ]
        return found

    def swapped(self, part: str, one: int, two: int) -> dict[int, Fill | None]:
        """What would answer each step if the pieces at two numbers changed places."""
        first, second = self._sizes(part, one), self._sizes(part, two)
        would: dict[int, Fill | None] = {}
        for (here, fill_here), (there, fill_there) in zip(first, second, strict=True):
            would[here] = fill_there
            would[there] = fill_here
        return would

    def _swap(self, part: str, one: int, two: int) -> None:
        would = self.swapped(part, one, two)
        conceded = self._conceded_of(part, one, two) | self._conceded_of(part, two, one)
        for at in would:
            self.clear(at)
        for at, fill in would.items():
            if fill is not None:
                self.fill(at, fill)
        for subject, reason in conceded.items():
            self.concede(subject, reason)

    def _conceded_of(self, part: str, number: int, to: int) -> dict[str, str]:
        """Concessions on a piece's sizes, by the subjects they have at another number."""
        there = (self.steps[at] for at, _ in self._sizes(part, to))
        here = (self.steps[at].subject_id for at, _ in self._sizes(part, number))
        return {
            step.subject_id: self.conceded[subject]
            for subject, step in zip(here, there, strict=True)
            if subject in self.conceded
        }

    def scrap(self, part: str, number: int) -> None:
        """The piece is rejected: its steps reopen and a nameless successor takes its place."""
        old = self.piece(part, number)
        assert old is not None
        self.scrapped.add((part, old))
        self.rework(part, number)
        count = 2
        while (part, f"{part}-{number}.{count}") in self.scrapped:
            count += 1
        self.pieces[part, number] = f"{part}-{number}.{count}"

    # looking at sizes -------------------------------------------------------------------------

    def works_of(self, *characteristics: str) -> list[Work]:
        """The operations that measure any of these characteristics, in order of work."""
        return [w for name in characteristics for w in self._measures.get(name, ())]

    def placement(self, step: Step) -> dict[str, str | int | None]:
        """A step as a placement names it."""
        return {
            "id": step.id,
            "operation": step.operation,
            "kind": step.kind._value_,
            "characteristic": step.subject,
            "part": step.part,
            "number": step.number,
            "piece": self.piece(step.part, step.number),
            "point": step.point,
            "pass": self.pass_of(step),
            "repeat": step.repeat,
        }

    def rests_on(self, characteristic: str) -> bool:
        """Whether any derived quantity is computed from this characteristic."""
        return characteristic in self._derived_from

    def pass_of(self, step: Step) -> int:
        return self.passes.get((step.operation, step.number), 1)
