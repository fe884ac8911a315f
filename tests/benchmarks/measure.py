"""Numbers out of runs: percentiles, interleaved rounds, ratios taken inside a round.

A disk's sync speed and a shared machine's load drift, so a figure means something only beside
another from the same round. Contenders therefore take turns, every other round in reverse order,
and what is reported is the median over rounds of the ratios within them.
"""

from __future__ import annotations

import statistics
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple, TypeVar

T = TypeVar("T")


class Spread(NamedTuple):
    """Half of the values lie at or below ``p50``, 99 of 100 at or below ``p99``."""

    p50: float
    p99: float
    values: int


def percentile(values: Sequence[float], share: float) -> float:
    """The smallest value that at least ``share`` (0 to 1) of the values do not exceed."""
    if not values:
        raise ValueError("no values")
    ordered = sorted(values)
    at = -(-share * len(ordered) // 1)  # rounded up: the nearest-rank definition
    return ordered[min(len(ordered), max(1, int(at))) - 1]


def spread(values: Sequence[float]) -> Spread:
    """Median and 99th percentile of one run."""
    return Spread(percentile(values, 0.50), percentile(values, 0.99), len(values))


def median_spread(runs: Sequence[Spread]) -> Spread:
    """The medians over several runs."""
    return Spread(
        statistics.median(run.p50 for run in runs),
        statistics.median(run.p99 for run in runs),
        sum(run.values for run in runs),
    )


def take_turns(
    contenders: Mapping[str, Callable[[], T]], rounds: int, say: Callable[[str], None]
) -> dict[str, list[T]]:
    """Runs every contender once a round, every other round in reverse; one result a round each."""
    results: dict[str, list[T]] = {name: [] for name in contenders}
    for number in range(rounds):
        names = list(contenders)
        for name in names if number % 2 == 0 else reversed(names):
            say(f"round {number + 1} of {rounds}: {name}")
            results[name].append(contenders[name]())
    return results


def median_ratio(ours: Sequence[float], theirs: Sequence[float]) -> float:
    """Median over rounds of ours / theirs in that round."""
    return statistics.median(our / their for our, their in zip(ours, theirs, strict=True))
