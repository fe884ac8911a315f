"""What the assignment of parts costs, beside one bare linear assignment of the same clearances
in floating point.

Ours asks more: the band first, then the worst miss (a bisection with a matching at every step),
then the sum, all of it from exact decimals and back.
"""

from __future__ import annotations

import random
import statistics
import time
from collections.abc import Callable
from decimal import Decimal

from capture import fit
from tests.benchmarks.measure import median_ratio, take_turns
from tests.benchmarks.table import Row, seconds

PARTS = (10, 100, 300)
BOUNDS = {10: None, 100: None, 300: 12.0}
"""Of few parts the ratio only tells what reading and writing decimals costs."""
AT_ONCE = {10: 50, 100: 10, 300: 3}

BAND = (Decimal("0.025"), Decimal("0.045"))
TARGET = Decimal("0.035")
Parts = dict[str | int, Decimal]


def parts(count: int) -> tuple[Parts, Parts]:
    """Invented bores and pistons (mm), drawn always alike."""
    draw = random.Random(count)
    bores: Parts = {n: Decimal(draw.randint(872000, 872400)).scaleb(-4) for n in range(count)}
    pistons: Parts = {n: Decimal(draw.randint(871650, 872050)).scaleb(-4) for n in range(count)}
    return bores, pistons


def rows(rounds: int, say: Callable[[str], None]) -> list[Row]:
    """One row for each number of parts."""
    return [_row(count, rounds, say) for count in PARTS]


def _row(count: int, rounds: int, say: Callable[[str], None]) -> Row:
    import numpy as np
    from scipy.optimize import linear_sum_assignment

    bores, pistons = parts(count)
    fit.assign(bores, pistons, BAND, TARGET)  # imports what it needs

    def plainly() -> None:
        tall, wide = np.array([*bores.values()], float), np.array([*pistons.values()], float)
        linear_sum_assignment(abs(tall[:, None] - wide[None, :] - float(TARGET)))

    runs = take_turns(
        {
            "ours": lambda: _each(count, lambda: fit.assign(bores, pistons, BAND, TARGET)),
            "bare": lambda: _each(count, plainly),
        },
        rounds,
        say,
    )
    ratio = median_ratio(runs["ours"], runs["bare"])
    ours, bare = (statistics.median(runs[who]) for who in ("ours", "bare"))
    return Row(
        f"assign {count} pistons to {count} bores",
        seconds(ours),
        f"bare linear assignment {seconds(bare)}",
        ratio,
        BOUNDS[count],
        note="exact; band and worst miss first",
    )


def _each(count: int, once: Callable[[], object]) -> float:
    """Seconds of one call, over as many as are worth a look at the clock."""
    begun = time.perf_counter()
    for _ in range(AT_ONCE[count]):
        once()
    return (time.perf_counter() - begun) / AT_ONCE[count]
