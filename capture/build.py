"""The state of one build: which steps are answered, what holds them, and what is next.

A build's state is computed from ledger entries and is never the truth itself: the methods that
change it (``fill``, ``clear``, ``concede``…, and the functions of ``capture.rework``) are called
only by ``capture.desk`` as it folds an entry in. A step is *open* while it is unanswered and every
operation its own comes after is complete; an operation is complete when all its steps are answered
and none of its results, nor any quantity derived from them, is an unsettled nonconforming or
undecided one (a *hold*). Operations of one *round* are done place by place, and wait for each other
only at the same place.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby
from typing import NamedTuple

from capture import belong
from capture.pieces import Pieces
from capture.quantity import Number
from capture.sisters import Family
from capture.spec.model import Limits, Spec
from capture.step import Step, steps_of
from capture.work import Work

SETTLED = ("conforming", "not_evaluated")
"""Results that hold nothing: what has no limits, and repeats until the last of them is there."""


class Fill(NamedTuple):
    """What answers a step."""

    press: int | None
    """Seq of the press; None for a confirmation."""
    seq: int
    """Seq of the entry that decided."""
    value: Number | None
    """In the step's unit; the middle of a bracket."""
    expanded: str | None
    """Expanded uncertainty as in the verdict (decimal text, the step's unit)."""
    coverage: str | None
    result: str
    shared: tuple[tuple[str, float], ...] = ()
    """(source, standard uncertainty in the step's unit) of each contribution that other sizes
    taken with the same gauge or standard share: its certificate, what it was set on."""
    bracket: tuple[Number | None, Number | None] | None = None
    """Between which two values it lies, where that is all that is known."""
    drift: str = ""
    """What a zero check found over its set, where the gauge had drifted."""


class DerivedFill(NamedTuple):
    """The newest result of a derived quantity at one number."""

    seq: int
    verdict: dict[str, object]


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
            self.works[operation.id] = Work(operation, start, [self.place(s) for s in steps])
        self.index = {step.id: number for number, step in enumerate(self.steps)}
        self.fills: list[Fill | None] = [None] * len(self.steps)
        self.filled = 0
        self.drifted = 0
        """How many answers are of sets whose gauge had drifted."""
        self.press_at: dict[int, int] = {}
        self.passes: dict[tuple[str, int], int] = {}
        self.derived: dict[tuple[str, int], DerivedFill] = {}
        self.conceded: dict[str, str] = {}
        self.stale: dict[str, str] = {}
        """Subject → what its limits follow from, where that changed after it was judged."""
        self.pieces = Pieces(spec.parts)
        self.yielded: dict[tuple[str, str], int] = {}
        """(part, piece) → press of its final tightening, of fasteners tightened into yield."""
        self.limits: dict[tuple[str, int], tuple[Number, Limits]] = {}
        """Kept by ``capture.factored``: limits as they follow from a size."""
        self.families: dict[tuple[str, int], tuple[object, tuple[Family, list[int]]]] = {}
        """Kept by ``capture.sets``."""
        self.opened_mono: tuple[int, int] = (0, 0)
        """(boot, mono) at which the current step became current."""
        self._next: int | None = None
        self._known = False
        self._measures: dict[str, list[Work]] = {}
        for work in self.works.values():
            self._measures.setdefault(work.operation.subject, []).append(work)
        self._under: dict[str, list[str]] = {name: [] for name in spec.derived}
        """Derived quantity → the characteristics it rests on, directly or through others."""
        for name in spec.characteristics:
            for derived in belong.dependents(spec, name):
                self._under[derived].append(name)
        self._followers = self._limits_from()
        """Characteristic → those whose limits follow from it, directly or through others."""
        self._derived_from = {name for under in self._under.values() for name in under}

    def place(self, step: Step) -> int:
        """The number of its position at which a step's part stands; 0 where it is about none."""
        return 0 if step.part is None else self.spec.parts[step.part].place(step.number)

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
        for word, works in groupby(self.works.values(), lambda work: work.operation.round):
            found = self._firsts(works)
            yield from sorted(found, key=lambda at: self.place(self.steps[at])) if word else found

    def _firsts(self, works: Iterable[Work]) -> Iterator[int]:
        for work in works:
            if not work.answered:
                at = self._first_open(work, self._first_unanswered(work))
                if at is not None:
                    yield at

    def _first_open(self, work: Work, first: int) -> int | None:
        """The first open step of an operation; in a round what holds one place up is passed by."""
        if not work.operation.round:
            return first if self.is_unblocked(work, self.steps[first]) else None
        for at in range(first, work.stop):
            if self.is_open(at):
                return at
        return None

    def is_open_work(self, work: Work) -> bool:
        """Whether the first unanswered step of an operation is open."""
        return not work.answered and self.is_open(self._first_unanswered(work))

    def _first_unanswered(self, work: Work) -> int:
        fills, at = self.fills, work.cursor
        while fills[at] is not None:
            at += 1
        work.cursor = at
        return at

    def is_unblocked(self, work: Work, step: Step) -> bool:
        """Whether every operation that this step's comes after is complete; of its own round, at
        its own place."""
        return not self.waits_for(work, step)

    def waits_for(self, work: Work, step: Step) -> list[str]:
        """The operations that keep a step of this work from being open."""
        own, found = work.operation.round, []
        for name in work.operation.after:
            other = self.works[name]
            same = own and other.operation.round == own
            if not (other.complete_at(self.place(step)) if same else other.complete):
                found.append(name)
        return found

    def is_open(self, at: int) -> bool:
        step = self.steps[at]
        return self.fills[at] is None and self.is_unblocked(self.works[step.operation], step)

    @property
    def done(self) -> bool:
        return self.filled == len(self.steps) and not any(w.holds for w in self.works.values())

    # folding entries in -----------------------------------------------------------------------

    def fill(self, at: int, fill: Fill) -> None:
        """Answers a step; the step must be unanswered."""
        step = self.steps[at]
        work = self.works[step.operation]
        assert self.fills[at] is None, f"{step.id} is answered already"
        self.fills[at] = fill
        self.drifted += bool(fill.drift)
        self.filled += 1
        work.count(step.number, self.place(step), 1)
        if fill.press is not None:
            self.press_at[fill.press] = at
        if at == self.chosen:
            self.chosen = self._next_repeat(at)
        if step.repeats > 1:
            self._same_result(at, fill.result)
        self._hold(work, step.subject_id, self.place(step), fill.result)
        self.conceded.pop(step.subject_id, None)
        after = at + 1
        if (
            self._known
            and self._next == at
            and after < work.stop
            and self.fills[after] is None
            and not work.operation.round
        ):
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

    def _hold(self, work: Work, subject: str, place: int, result: str) -> None:
        if result in SETTLED:
            if work.holds and work.holds.pop(subject, None) is not None:
                self._known = False
        else:
            work.holds[subject] = place
            self._known = False

    def clear(self, at: int) -> None:
        """Takes a step's answer away (void, correction, rework)."""
        fill = self.fills[at]
        if fill is None:
            return
        step = self.steps[at]
        work = self.works[step.operation]
        self.fills[at] = None
        self.drifted -= bool(fill.drift)
        self.filled -= 1
        work.count(step.number, self.place(step), -1)
        work.cursor = min(work.cursor, at)
        work.holds.pop(step.subject_id, None)
        self.conceded.pop(step.subject_id, None)
        if step.repeats > 1:
            self._same_result(at, "not_evaluated")
        if fill.press is not None:
            self.press_at.pop(fill.press, None)
        self.stale.pop(step.subject_id, None)
        if step.subject in self._derived_from:
            self._forget_derived(step.subject, step.number)
        if step.subject in self._followers:
            self._outdate(step)
        self._known = False

    def _limits_from(self) -> dict[str, list[str]]:
        found: dict[str, list[str]] = {}
        for name, one in self.spec.characteristics.items():
            if one.factors is not None:
                for source in self._under.get(one.factors.of, [one.factors.of]):
                    found.setdefault(source, []).append(name)
        return found

    def _outdate(self, source: Step) -> None:
        """A size changed that limits follow from: what was judged by them is open again."""
        place = self.place(source)
        for work in self.works_of(*self._followers[source.subject]):
            for at in range(work.start, work.stop):
                if self.place(self.steps[at]) == place:
                    self.limits_moved(at)

    def limits_moved(self, at: int) -> None:
        """The limits of an answered step are not those it was judged by."""
        step, fill = self.steps[at], self.fills[at]
        one = self.spec.characteristics.get(step.subject)
        if fill is None or one is None or one.factors is None:
            return
        self.fills[at] = fill._replace(result="undecided")
        self.stale[step.subject_id] = one.factors.of
        self._hold(self.works[step.operation], step.subject_id, self.place(step), "undecided")

    def _forget_derived(self, characteristic: str, number: int) -> None:
        for name, each in belong.affected(self.spec, characteristic, number):
            if self.derived.pop((name, each), None) is not None:
                subject = f"{name}/{each}"
                self.conceded.pop(subject, None)
                for work in self.works_under(name):
                    work.holds.pop(subject, None)

    def set_derived(self, derived_id: str, number: int, fill: DerivedFill) -> None:
        """Records a derived result; a nonconforming one holds the operations it rests on."""
        self.derived[derived_id, number] = fill
        subject = f"{derived_id}/{number}"
        self.conceded.pop(subject, None)
        place = self.spec.parts[belong.part_of(self.spec, derived_id)].place(number)
        for work in self.works_under(derived_id):
            self._hold(work, subject, place, str(fill.verdict["result"]))

    def concede(self, subject: str, reason: str) -> None:
        """Settles a hold."""
        self.conceded[subject] = reason
        for work in self.works.values():
            work.holds.pop(subject, None)
        self._known = False

    def look_again(self) -> None:
        """What is next may have changed by something that is no step: a piece moved."""
        self._known = False

    # looking at sizes -------------------------------------------------------------------------

    def works_of(self, *characteristics: str) -> list[Work]:
        """The operations that measure any of these characteristics, in order of work."""
        return [w for name in characteristics for w in self._measures.get(name, ())]

    def works_under(self, derived_id: str) -> list[Work]:
        """The operations that measure what a derived quantity rests on."""
        return self.works_of(*self._under[derived_id])

    def part_of(self, work: Work) -> str | None:
        """The part that an operation is about."""
        return self.steps[work.start].part

    def placement(self, step: Step) -> dict[str, str | int | None]:
        """A step as a placement names it."""
        return {
            "id": step.id,
            "operation": step.operation,
            "kind": step.kind._value_,
            "characteristic": step.subject,
            "part": step.part,
            "number": step.number,
            "piece": self.pieces.at(step.part, step.number),
            "point": step.point,
            "pass": self.pass_of(step),
            "repeat": step.repeat,
        }

    def rests_on(self, characteristic: str) -> bool:
        """Whether any derived quantity is computed from this characteristic."""
        return characteristic in self._derived_from

    def pass_of(self, step: Step) -> int:
        return self.passes.get((step.operation, step.number), 1)
