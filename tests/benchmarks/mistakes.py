"""``python -m tests.benchmarks.mistakes``: how often mistakes are questioned, and good readings.

Builds are simulated: an invented block with form, gauges with noise and resolution, and the
service's own rules on the readings. A mistake is *questioned* when its press does not count until a
person decides, when its result holds, when the closing zero check marks it, or (``later``) when it
is shown as worth a look once all sets are complete.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Sequence
from statistics import NormalDist
from typing import NamedTuple

from capture.findings import NOT_SHOWN
from tests.benchmarks.mistake_cases.day import Days, Mistake, Tally
from tests.benchmarks.mistake_cases.engine import Shop
from tests.benchmarks.mistake_cases.kinds import APART, GOAL, KINDS, wrong_cylinder

SHOPS = {
    "half the form shared": Shop(),
    "no form shared": Shop(shared=0.0),
    "form mostly shared": Shop(shared=0.9),
    "eight cylinders": Shop(cylinders=8),
    "as much noise as form": Shop(form=0.001, noise=0.001, between=0.002),
    "worn: bores far apart": Shop(form=0.006, between=0.015),
}
GOOD_MOST = 1.0
"""Good readings questioned, of 1,000, at most."""


class Line(NamedTuple):
    """One kind of mistake, as measured."""

    mistake: Mistake
    tally: Tally

    @property
    def within(self) -> bool:
        goal = self.mistake.goal
        return goal is None or self.tally.share >= goal


class Good(NamedTuple):
    """Good readings of days without a mistake."""

    shop: str
    tally: Tally

    @property
    def per_thousand(self) -> float:
        asked = sum(self.tally.good_asked.values()) + self.tally.good_later
        return 1000.0 * asked / self.tally.good


class Curve(NamedTuple):
    """Questioned shares of one reading on another cylinder, by how far they are apart."""

    shop: str
    tallies: list[Tally]


class Table(NamedTuple):
    """Everything measured."""

    lines: list[Line]
    good: list[Good]
    curves: list[Curve]


def measure(days: int, good_days: int, seed: int = 1, apart: Sequence[float] = APART) -> Table:
    """``days`` builds with each kind of mistake, ``good_days`` without one for each shop."""
    lines = [Line(kind, Days(seed, SHOPS[FIRST]).run(days, kind)) for kind in KINDS]
    beyond = wrong_cylinder(3.0, 10.0, GOAL)
    lines.append(Line(beyond, Days(seed, SHOPS[FIRST]).run(days, beyond)))
    good, curves = [], []
    for number, (name, shop) in enumerate(SHOPS.items()):
        good.append(Good(name, Days(seed + number, shop).run(good_days, None)))
        if apart:
            run = Days(seed + number, shop)
            curves.append(Curve(name, [run.run(days, wrong_cylinder(d, d)) for d in apart]))
    return Table(lines, good, curves)


FIRST = "half the form shared"


def interval(found: int, of: int) -> tuple[float, float]:
    """95 % limits of a share (Wilson's score interval, from memory)."""
    if not of:
        return 0.0, 1.0
    z, share = 1.96, found / of
    middle = (share + z * z / (2 * of)) / (1 + z * z / of)
    half = z / (1 + z * z / of) * math.sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    return max(0.0, middle - half), min(1.0, middle + half)


def markdown(table: Table, apart: Sequence[float] = APART) -> str:
    """The tables for a README."""
    parts = [_lines(table.lines), _good(table.good)]
    if table.curves:
        parts.append(_curves(table.curves, apart))
    parts.append(_not_shown())
    return "\n\n".join(parts)


def _rows(*rows: Sequence[str]) -> str:
    head, *rest = rows
    return "\n".join("| " + " | ".join(row) + " |" for row in [head, ["---"] * len(head), *rest])


def _lines(lines: list[Line]) -> str:
    rows = [("mistake", "made", "as it comes", "later", "questioned", "95 % limits", "goal")]
    for mistake, tally in lines:
        low, high = interval(tally.asked + tally.later, tally.made)
        goal = "" if mistake.goal is None else f"≥ {mistake.goal:.0%}"
        met = "" if Line(mistake, tally).within else " MISSED"
        rows.append(
            (
                mistake.name,
                str(tally.made),
                f"{tally.asked / tally.made:.1%}",
                f"{tally.later / tally.made:.1%}",
                f"{tally.share:.1%}",
                f"{low:.1%} to {high:.1%}",
                goal + met,
            )
        )
    return _rows(*rows)


def _good(good: list[Good]) -> str:
    rows = [("good readings of", "measured", "questioned per 1,000", "by", "goal")]
    for shop, tally in good:
        line = Good(shop, tally)
        by = [f"{code} {count}" for code, count in sorted(tally.good_asked.items())]
        by += [f"looked at again {tally.good_later}"] if tally.good_later else []
        met = "" if line.per_thousand <= GOOD_MOST else " MISSED"
        rows.append((shop, str(tally.good), f"{line.per_thousand:.2f}", ", ".join(by), f"≤ 1{met}"))
    return _rows(*rows)


def _curves(curves: list[Curve], apart: Sequence[float]) -> str:
    rows = [("one reading on another cylinder, combined sd apart", *(f"{d:g}" for d in apart))]
    for shop, tallies in curves:
        rows.append((shop, *(f"{one.share:.0%} ({one.asked / one.made:.0%})" for one in tallies)))
    rows.append(("one residual alone, its scatter known", *(f"{alone(d):.0%}" for d in apart)))
    return _rows(*rows) + "\n\nIn brackets: as it comes, before all sets are complete."


def alone(apart: float, points: int = 6) -> float:
    """The share that the best test of one residual finds (Neyman and Pearson), with the scatter
    known, no form shared, the direction known, and one good reading in 1,000 questioned."""
    normal = NormalDist()
    deviation = math.sqrt(1.0 + 1.0 / (points - 1))
    return normal.cdf(apart / deviation - normal.inv_cdf(1.0 - GOOD_MOST / 1000.0))


def _not_shown() -> str:
    rows = [("what no data can show", "why", "what guards against it")]
    return _rows(*rows, *(tuple(one) for one in NOT_SHOWN))


def main() -> None:
    parser = argparse.ArgumentParser(description="Simulates builds with mistakes in them.")
    parser.add_argument("--days", type=int, default=1000, help="builds with each mistake")
    parser.add_argument("--good", type=int, default=1000, help="builds without one, each shop")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--no-curve", action="store_true")
    given = parser.parse_args()
    apart = () if given.no_curve else APART
    print(markdown(measure(given.days, given.good, given.seed, apart), apart))


if __name__ == "__main__":
    main()
