"""A whole gauge study beside one two-way table of statsmodels, in the same run."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from decimal import Decimal
from typing import Any, Final

from capture.quantity import Number
from capture.spec.model import Limits, Study
from capture.study.analysis import analyse
from capture.study.anova import two_way
from capture.study.grid import Key
from capture.study.order import draw
from tests.benchmarks.measure import median_ratio, take_turns
from tests.benchmarks.table import Row, seconds

PEOPLE: Final = ("A", "B", "C")
SAMPLES: Final = 10
TRIALS: Final = 3
REPEATS: Final = 7
"""Timed one after the other in a round; the median of them counts."""


def study() -> Study:
    """Invented: ten samples by three people, three times."""
    return Study(
        id="invented",
        title="Invented study",
        unit="mm",
        appraisers=PEOPLE,
        samples=SAMPLES,
        trials=TRIALS,
        references=tuple(Decimal(5) + Decimal(at) / 100 for at in range(SAMPLES)),
        lot="benchmark",
        tolerance=Decimal("0.05"),
        plausible=Limits(Decimal(0), Decimal(9)),
        instruments=("micrometer",),
    )


def readings(of: Study) -> dict[Key, Number]:
    """Sizes that differ by sample, person and turn, the same in every run."""
    turns = draw(of.samples, of.appraisers, of.trials, of.lot)
    return {
        turn: of.references[turn.sample - 1]
        + Decimal(PEOPLE.index(turn.appraiser)) / 1000
        + Decimal(at * 7919 % 13) / 1000
        for at, turn in enumerate(turns)
    }


def rows(rounds: int, say: Callable[[str], None]) -> list[Row]:
    """The timing of a study of 10 × 3 × 3 readings.

    Ours is everything ``analyse`` gives: both methods with intervals, bias, linearity and
    sentences. Beside it, the table alone with statsmodels' ``anova_lm``, its data frame at hand.
    Raises AssertionError where the two disagree about the table.
    """
    of = study()
    sizes = readings(of)
    peer = _peer(sizes)
    _agree(of, sizes, peer())
    contenders: dict[str, Callable[[], float]] = {
        "study": lambda: _median(lambda: analyse(of, sizes)),
        "statsmodels": lambda: _median(peer),
    }
    times = take_turns(contenders, rounds, say)
    ours, theirs = times["study"], times["statsmodels"]
    return [
        Row(
            f"gauge study of {SAMPLES} × {len(PEOPLE)} × {TRIALS}, whole",
            seconds(statistics.median(ours)),
            f"statsmodels, table only {seconds(statistics.median(theirs))}",
            median_ratio(ours, theirs),
            1.0,
        )
    ]


def _median(act: Callable[[], object]) -> float:
    taken = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        act()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def _peer(sizes: dict[Key, Number]) -> Callable[[], Any]:
    """The same table by statsmodels, from a data frame made beforehand."""
    import pandas as pd
    from statsmodels.formula.api import ols
    from statsmodels.stats.anova import anova_lm

    frame = pd.DataFrame(
        [
            {"who": who, "sample": sample, "size": float(size)}
            for (who, sample, _), size in sizes.items()
        ]
    )
    return lambda: anova_lm(ols("size ~ C(who) * C(sample)", data=frame).fit())


def _agree(of: Study, sizes: dict[Key, Number], theirs: Any) -> None:
    """A time means nothing beside a peer that computes something else."""
    ours = two_way(
        [
            [
                [sizes[who, sample, trial] for trial in range(1, of.trials + 1)]
                for sample in range(1, of.samples + 1)
            ]
            for who in of.appraisers
        ]
    )
    names = ("C(who)", "C(sample)", "C(who):C(sample)", "Residual")
    lines = (ours.appraiser, ours.sample, ours.interaction, ours.repeat)
    for line, name in zip(lines, names, strict=True):
        other = float(theirs.loc[name, "sum_sq"])
        assert abs(line.sum_of_squares - other) <= 1e-8 * ours.total.sum_of_squares, name
