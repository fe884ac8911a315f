"""The kinds of mistake: what hands do, step by step."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

from capture.step import Step
from tests.benchmarks.mistake_cases.block import LEAVES
from tests.benchmarks.mistake_cases.day import Day, Decision, Mistake
from tests.benchmarks.mistake_cases.engine import Engine, digits, entered

GOAL = 0.95
BORES, JOURNALS, GAPS, BOLTS = ("bores",), ("journals",), ("gaps",), ("bolts",)
ZEROED = ("zero-before", "bores", "zero-after")


def _any(step: Step) -> bool:
    return True


def _in(*operations: str) -> Callable[[Step], bool]:
    return lambda step: step.operation in operations


def _middle(step: Step) -> bool:
    """Neither the first nor the last reading of a set."""
    return step.operation == "bores" and step.point not in ("top-thrust", "bottom-axial")


def asked(decision: Decision) -> bool:
    """Whether a person is asked: the press does not count, or its result holds."""
    return decision["reason"] is not None or decision["verdict"]["result"] == "nonconforming"


def _slip(gauge: str, make: Callable[[str], str], unit: str = "mm") -> Callable[[Day, Step], bool]:
    """A press whose digits are those of an honest one, changed."""

    def do(day: Day, step: Step) -> bool:
        return asked(day.bench.press(make(day.engine.read(step)), gauge, unit))

    return do


def _inches(places: int, step: str) -> Callable[[str], str]:
    """A display in inches of what it would show in mm."""

    def make(read: str) -> str:
        size = Decimal(read) / Decimal("25.4") / Decimal(step)
        return format(round(size) * Decimal(step), f".{places}f")

    return make


def _times(factor: str) -> Callable[[str], str]:
    return lambda read: format(Decimal(read) * Decimal(factor), "f")


def _over(factor: float) -> Callable[[str], str]:
    return lambda read: f"{float(read) / factor:.1f}"


def _sign(read: str) -> str:
    return read[1:] if read.startswith("-") else f"-{read}"


def _another(gauge: str) -> Callable[[Day, Step], bool]:
    """A press of another gauge of the bench, which shows what it would show of the part."""
    return lambda day, step: asked(day.bench.press(_shown_by(gauge, day, step), gauge, "mm"))


def _shown_by(gauge: str, day: Day, step: Step) -> str:
    size = day.engine.size(step)
    return digits(day.draw.uniform(-0.02, 0.02)) if "gauge" in gauge else digits(size)


def _double(change: int) -> Callable[[Day, Step], bool]:
    """The button pressed twice within half a second; the display moved by so many steps or fewer,
    at least one where it moved."""

    def do(day: Day, step: Step) -> bool:
        read = day.engine.read(step)
        gauge = "mic" if step.operation == "journals" else "bore-gauge"
        day.bench.press(read, gauge)
        moved = Decimal(day.draw.choice((-1, 1)) * change) * Decimal("0.001")
        again = format(Decimal(read) + moved, "f")
        return asked(day.bench.press(again, gauge, after_ms=day.draw.randrange(60, 450)))

    return do


def _hidden(day: Day, step: Step) -> bool:
    """Two leaves in the gap, the thinner read; the neighbours seen enclose both."""
    at = day.draw.randrange(1, len(LEAVES) - 2)
    found = entered(LEAVES[at])._replace(beside=(LEAVES[at - 1], LEAVES[at + 2]))
    return asked(day.bench.with_leaves(found))


def _misread(beside_read_right: bool) -> Callable[[Day, Step], bool]:
    """Another leaf entered than was used: with the neighbours seen, or those it would have."""

    def do(day: Day, step: Step) -> bool:
        true = day.engine.leaves(step).lower
        wrong = day.draw.choice([leaf for leaf in LEAVES if leaf != true])
        found = entered(wrong, true if beside_read_right else None)
        return asked(day.bench.with_leaves(found))

    return do


EXPANDED_ZERO = 0.0021
"""U (k = 2) of what the bore gauge reads on its ring: certificate and resolution."""


def _shift(least: float, most: float) -> Callable[[Day, Step], bool]:
    """The zero moves by so many U from this reading on."""

    def do(day: Day, step: Step) -> bool:
        by = day.draw.uniform(least, most) * EXPANDED_ZERO
        day.engine.zero += day.draw.choice((-1.0, 1.0)) * by
        return False

    return do


def _elsewhere(day: Day, step: Step) -> bool:
    """This one reading is taken on the bore that ``_apart`` has set apart. That its size may be
    outside the limits there, and hold, is not counted as questioned."""
    other = _other(day.engine, step)
    return day.bench.press(day.engine.read(step, other), "bore-gauge")["reason"] is not None


def _other(engine: Engine, step: Step) -> int:
    return step.number % len(engine.bores) + 1


def _apart(least: float, most: float) -> Callable[[Day, Step], None]:
    def prepare(day: Day, step: Step) -> None:
        by = day.draw.choice((-1.0, 1.0)) * day.draw.uniform(least, most)
        day.engine.set_apart(step.number, _other(day.engine, step), by)

    return prepare


def wrong_cylinder(least: float, most: float, goal: float | None = None) -> Mistake:
    """One reading in the middle of a set on another cylinder, whose true mean differs by between
    ``least`` and ``most`` combined standard deviations of one reading."""
    far = f"{least:g}" if least == most else f"{least:g} to {most:g}"
    name = f"one reading on another cylinder, {far} combined sd apart"
    return Mistake(name, BORES, _middle, _elsewhere, goal, _apart(least, most))


INCH = _inches(4, "0.0001")
FINE_INCH = _inches(5, "0.00005")

KINDS = (
    Mistake("size in inches taken for mm", JOURNALS, _any, _slip("mic", INCH), GOAL),
    Mistake(
        "size in mm taken for inches", JOURNALS, _any, _slip("inch-mic", lambda r: r, "in"), GOAL
    ),
    Mistake(
        "bore gauge's deviation in inches taken for mm", BORES, _any,
        _slip("bore-gauge", FINE_INCH), GOAL,
    ),
    Mistake("lbf·ft taken for N·m", BOLTS, _any, _slip("adapter", _over(1.3558), "N·m"), GOAL),
    Mistake("decimal point moved right", JOURNALS, _any, _slip("mic", _times("10"))),
    Mistake("decimal point moved left", JOURNALS, _any, _slip("mic", _times("0.1"))),
    Mistake("sign of a deviation lost, mid-set", BORES, _middle, _slip("bore-gauge", _sign)),
    Mistake("button pressed twice", BORES + JOURNALS, _any, _double(0), GOAL),
    Mistake("button pressed twice, last digit moved", BORES + JOURNALS, _any, _double(1)),
    Mistake("two leaves counted as one", GAPS, _any, _hidden, GOAL),
    Mistake("another leaf entered, neighbours as seen", GAPS, _any, _misread(True), GOAL),
    Mistake("another leaf entered, neighbours not looked at", GAPS, _any, _misread(False)),
    Mistake("another kind of tool: micrometer in a bore", BORES, _any, _another("mic"), GOAL),
    Mistake(
        "another kind of tool: bore gauge on a journal", JOURNALS, _any, _another("bore-gauge"),
        GOAL,
    ),
    Mistake("gauge set on a 58 mm ring", BORES, _any, _another("small-bore-gauge"), GOAL),
    Mistake(
        "gauge set on a ring 0.25 mm smaller", BORES, _any, _another("near-bore-gauge"), GOAL
    ),
    Mistake(
        "zero shifted by 2 U", ZEROED, _in("bores"), _shift(2.0, 2.0), GOAL, closing=True
    ),
    Mistake(
        "zero shifted by 2 to 6 U", ZEROED, _in("bores"), _shift(2.0, 6.0), GOAL, closing=True
    ),
)  # fmt: skip

APART = (3.0, 3.5, 4.0, 4.24, 4.5, 5.0, 6.0, 8.0, 10.0)
"""Differences for the curve. 4.24 = 3·√2: three standard deviations of a difference."""
