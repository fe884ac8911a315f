"""A day at the bench: every step is answered, honestly but for one mistake, by the real rules."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from random import Random
from typing import Any, Final

from capture import command as c
from capture.build import Build
from capture.entry import Kind
from capture.findings import sets
from capture.step import Step
from tests.benchmarks.mistake_cases.block import INSTRUMENTS, STANDARDS, spec
from tests.benchmarks.mistake_cases.engine import Engine, Leaves, Shop
from tests.paper import Paper

GAUGES: Final = {
    "zero-before": "bore-gauge",
    "bores": "bore-gauge",
    "zero-after": "bore-gauge",
    "journals": "mic",
    "gaps": "leaves",
    "bolts": "adapter",
}
DAYS_MOST: Final = 40
"""Builds on one bench; then a new one, so that none is slow with age."""

ALL: Final = ("zero-before", "bores", "zero-after", "journals", "gaps", "bolts")

Decision = dict[str, Any]


class Bench(Paper):
    """A bench on paper with these instruments, its gauges set on their rings."""

    def __init__(self) -> None:
        super().__init__()
        self.days = 0
        self.specs: dict[tuple[tuple[str, ...], int], str] = {}
        for instrument in INSTRUMENTS:
            self.write(Kind.INSTRUMENT, {**instrument.to_body(), "profile_seq": None})

    def start(self, operations: tuple[str, ...], cylinders: int) -> Build:
        """Opens a build; every gauge is set anew."""
        self.days += 1
        key = (operations, cylinders)
        if key not in self.specs:
            made = self.do(c.AddSpec(spec(operations, cylinders), "block.toml"))
            self.specs[key] = made["body"]["hash"]
        seq = self.do(c.OpenBuild(self.specs[key], f"day {self.days}"))["seq"]
        for gauge, (name, size) in STANDARDS.items():
            self.do(c.SetGauge(gauge, name, size, "mm", Decimal("0.001"), Decimal(2)))
        return self.desk.build(f"b{seq}")

    def with_leaves(self, found: Leaves) -> Decision:
        """Enters what was found with the leaves."""
        leaves, beside = (str(found.lower),), (_text(found.beside[0]), _text(found.beside[1]))
        return self.bracket(
            str(found.lower), _text(found.upper), "leaves", leaves=leaves, beside=beside
        )


def _text(leaf: Decimal | None) -> str | None:
    return None if leaf is None else str(leaf)


@dataclass(slots=True)
class Day:
    """One build: what was measured, and how often what was questioned."""

    bench: Bench
    build: Build
    engine: Engine
    draw: Random
    good: int = 0
    good_asked: dict[str, int] = field(default_factory=dict)
    """Code → good readings questioned with it."""
    wrong: set[str] = field(default_factory=set)
    """Steps answered by a mistake that was not questioned as it came."""

    def honest(self, step: Step) -> Decision:
        """Answers a step as honest hands do."""
        if step.operation == "gaps":
            return self.bench.with_leaves(self.engine.leaves(step))
        gauge = GAUGES[step.operation]
        return self.bench.press(
            self.engine.read(step), gauge, "N·m" if gauge == "adapter" else "mm"
        )

    def pass_over(self, step: Step) -> None:
        """Answers a step that should be answered by now, whatever the rules say: a person does."""
        at = self.build.index[step.id]
        while self.build.fills[at] is None:
            decided = self.honest(step)
            self.good += 1
            if decided["reason"] is None:
                return
            code = decided["reason"]["code"]
            self.good_asked[code] = self.good_asked.get(code, 0) + 1
            self.bench.do(c.Place(decided["press"], self.build.id, step.id, "looked, and right"))

    def steps(self) -> Iterator[Step]:
        """The steps as they come to be next, until all are answered."""
        while (at := self.build.next_index()) is not None:
            yield self.build.steps[at]

    def later(self) -> set[str]:
        """Readings that are questioned when all sets are complete."""
        return {one.subject for one in sets.readings(self.build)}


Do = Callable[[Day, Step], bool]
"""Makes a mistake at a step; says whether it was questioned. The step is answered afterwards."""


@dataclass(frozen=True, slots=True)
class Mistake:
    """A kind of mistake."""

    name: str
    operations: tuple[str, ...]
    at: Callable[[Step], bool]
    """Steps at which it can happen."""
    do: Do
    goal: float | None = None
    """The share that should be questioned, where there is such a goal."""
    prepare: Callable[[Day, Step], None] | None = None
    """What must be so before the first press, for it to happen at that step."""
    closing: bool = False
    """Only the closing zero check can show it."""


@dataclass(slots=True)
class Tally:
    """What came of many days."""

    made: int = 0
    asked: int = 0
    """As it came, or by the closing zero check."""
    later: int = 0
    """Only when all sets were complete."""
    good: int = 0
    good_asked: dict[str, int] = field(default_factory=dict)
    good_later: int = 0

    def add(self, day: Day, made: int, asked: bool, later: set[str], subject: str) -> None:
        self.made += made
        self.asked += asked
        self.later += not asked and subject in later
        self.good += day.good
        self.good_later += len(later - {subject})
        for code, count in day.good_asked.items():
            self.good_asked[code] = self.good_asked.get(code, 0) + count

    @property
    def share(self) -> float:
        return (self.asked + self.later) / self.made if self.made else 0.0


class Days:
    """Day after day on one bench, until it is exchanged for a new one."""

    def __init__(self, seed: int, shop: Shop | None = None) -> None:
        self.draw = Random(seed)
        self.shop = Shop() if shop is None else shop
        self.bench = Bench()

    def run(self, count: int, mistake: Mistake | None) -> Tally:
        """So many days, each with this mistake once (with none, where it is None)."""
        tally = Tally()
        for _ in range(count):
            if self.bench.days >= DAYS_MOST:
                self.bench = Bench()
            self._one(tally, mistake)
        return tally

    def _one(self, tally: Tally, mistake: Mistake | None) -> None:
        operations = ALL if mistake is None else mistake.operations
        build = self.bench.start(operations, self.shop.cylinders)
        day = Day(self.bench, build, Engine(self.draw, self.shop), self.draw)
        where = None
        if mistake is not None:
            where = self.draw.choice([step for step in build.steps if mistake.at(step)])
            if mistake.prepare is not None:
                mistake.prepare(day, where)
        asked = False
        for step in day.steps():
            if mistake is not None and where is not None and step.id == where.id:
                asked = mistake.do(day, step)
            elif step.kind == "zero":
                asked |= self._zero(day, step, mistake)
            day.pass_over(step)
        later = day.later() if "bores" in operations or "journals" in operations else set()
        subject = where.id if where is not None else ""
        tally.add(day, int(mistake is not None), asked, later, subject)

    def _zero(self, day: Day, step: Step, mistake: Mistake | None) -> bool:
        """The gauge on its ring: whether it says that its zero has moved."""
        decided = day.honest(step)
        day.good += 1
        zero = decided.get("zero")
        if zero is None or zero["steady"] is not False:
            return False
        if mistake is None:
            marked = len(zero["presses"])
            day.good_asked["zero-drift"] = day.good_asked.get("zero-drift", 0) + marked
        return mistake is not None and mistake.closing
